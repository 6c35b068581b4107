"""`asfound look`, `places`: what was seen of a component, and how."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from asfound.cli.answer import answer, coloured, columns, wrapped
from asfound.cli.find import opened, state_of, tail, time_of, view_of, writer
from asfound.cli.options import Hand, Home
from asfound.cli.typed import name_and_text
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.visit import VisitView

How = Literal["read", "in_hand", "at_part", "from_3m", "photo", "said", "plate", "paper"]


def look(
    visit: str,
    slot: str,
    /,
    *seen: str,
    not_there: bool = False,
    not_judged: bool = False,
    how: How = "at_part",
    label: str = "",
    source: str = "",
    state: str = "as_found",
    number: str = "",
    note: str = "",
    photo: tuple[Path, ...] = (),
    at: str = "",
    hand: Hand = Hand(),
) -> None:
    """Keep what was seen of a component, and how; then say what that did to the belief.

    asfound look A2 ignition_unit lid=two_ribs plugs=screwed_round --how at_part

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    slot
        Component by its job (`asfound places`); nameplate for what the plate says.
    seen
        character=state, several; two states with a comma where the eye wavers.
    not_there
        Looked, and it is not there.
    not_judged
        Looked, and could not judge.
    how
        How it was seen.
    label
        Text on it as far as it can be read; ? for a sign that cannot be.
    source
        One witness that told several things: the same word in each look.
    state
        as_found, or as_left after a change.
    number
        Number of the tag or position where there are several.
    note
        Anything else.
    photo
        File with a photo of it; may be given several times.
    at
        When, if not now.
    """
    from asfound.records.store import Draft

    records = opened(hand)
    before = view_of(records, visit)
    which = state_of(state)
    if which is None:
        raise InputError("state", state, "is no state of a visit", allowed="as_found, as_left")
    common: dict[str, Any] = {
        "slot": slot, "how": how, "label": label, "source": source, "state": which, "number": number, "note": note,
        "time": time_of(records, at), "by": writer(hand, records),
        "photos": [records.attach(_read(file), file.name, "image/jpeg") for file in photo],
    }  # fmt: skip
    contents = [common | one for one in _answers(seen, not_there, not_judged, bool(label))]
    _known(records, before, contents)
    entries = records.append_many(
        [Draft(kind="look", content=one, visit=before.id, who=writer(hand, records)) for one in contents]
    )
    after = view_of(records, before.id)
    answer(hand, _effect(before, after, entries), lambda: _told(before, after, entries))


def _read(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as fault:
        raise InputError("photo", str(file), f"cannot be read ({fault.strerror})") from fault


def _answers(seen: Sequence[str], not_there: bool, not_judged: bool, label: bool) -> list[dict[str, Any]]:
    """Return the answer part of each look."""
    if not_there and not_judged:
        raise InputError("not_there", "--not-judged", "cannot be said as well", try_next="Say one of them.")
    if not_there or not_judged:
        missed = "not_there" if not_there else "not_judged"
        return [{"answer": missed, "character": one.partition("=")[0]} for one in seen] or [
            {"answer": missed, "character": ""}
        ]
    if not seen and not label:
        raise InputError(
            "seen", "", "is missing", allowed="character=state, --not-there, --not-judged, or --label",
            try_next="`asfound places VISIT SLOT` lists characters and states.",
        )  # fmt: skip
    found = []
    for word in seen:
        character, states = name_and_text(word, "seen")
        found.append(
            {
                "answer": "seen",
                "character": character,
                "states": [one.strip() for one in states.split(",") if one.strip()],
            }
        )
    return found or [{"answer": "seen", "character": "label", "states": []}]


def _known(records: Records, before: VisitView, contents: Sequence[dict[str, Any]]) -> None:
    """Refuse a slot, character or state that the catalogue does not know, before anything is kept."""
    from asfound.fitout.looks import SeenLook
    from asfound.fitout.observed import check
    from asfound.records.catalogues import book_of

    catalogue = book_of(records, before.engine)
    fields = ("slot", "character", "answer", "how", "label", "by", "source", "time", "note")
    for one in contents:
        said = {name: one[name] for name in fields if name in one}
        check(catalogue, SeenLook(states=tuple(one.get("states", ())), **said))


def _effect(before: VisitView, after: VisitView, entries: Sequence[Entry]) -> dict[str, Any]:
    def belief(seen: VisitView) -> dict[str, float]:
        return {one.name: one.probability for one in seen.identification.builds} if seen.identification else {}

    return {
        "visit": after.visit.name,
        "entries": [one.id for one in entries],
        "looks": [dict(one.content) for one in entries],
        "belief_before": belief(before),
        "belief_after": belief(after),
        "words": after.identification.words if after.identification else "",
    }


def _told(before: VisitView, after: VisitView, entries: Sequence[Entry]) -> Iterator[str]:
    from asfound.quantities.display import chance

    for one in entries:
        content = one.content
        said = ", ".join(content.get("states", ())) or content["answer"].replace("_", " ")
        yield f"Kept {tail(one.id)}  {content['slot']} {content['character']}: {said}"
    if after.identification:
        old = {one.name: one.probability for one in before.identification.builds} if before.identification else {}
        for build in after.identification.builds[:2] if after.identification.weighed else ():
            was = f" (before {chance(old[build.name])})" if build.name in old else ""
            yield f"  {build.title}: {chance(build.probability)}{was}"
        yield f"  {after.identification.words}"
    new = [one for one in after.findings if one.says not in {old.says for old in before.findings}]
    yield from (coloured(f"  {one.code} {one.says} {one.next_step}", one.severity) for one in new)


def places(visit: str, slot: str = "", /, *, where: Home = Home()) -> None:
    """List the components of an engine to look at; with a slot, its characters and the states they can have.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    slot
        Component by its job; without it, all.
    """
    from asfound.cli.worded import character_rows, place_rows
    from asfound.records.catalogues import book_of

    records = opened(where)
    seen = view_of(records, visit)
    if not slot:
        rows = place_rows(seen.identification)
        head = ("no.", "slot", "component", "looked", "what sits there", "sure", "belongs to")
        answer(where, rows, lambda: columns([tuple(row.values()) for row in rows], head, right=(0, 5)))
        return
    rows = character_rows(book_of(records, seen.engine), slot)

    def told() -> Iterator[str]:
        for row in rows:
            yield coloured(f"{row['character']}: {row['title']}", "head")
            if row["kind"] == "count":
                yield f"  a whole number, {row['states'][0]['state']} or more"
            else:
                yield from columns([(f"  {state['state']}", state["title"]) for state in row["states"]])
            if row.get("own_words"):
                yield "  or own words"
            yield from wrapped(row["from"], "  ") if row["from"] else []

    answer(where, rows, told)
