"""What clashes when laptops meet that did not know of each other, side by side, and how a person settles it.

Nothing of it is stored: it follows from the set of entries, so both laptops show the same. Four things clash:

corrections   one entry was put right on two laptops
readings      one thing was read on two laptops, with two outcomes
sealed_twice  a visit was closed on two laptops
after_seal    a visit was closed on one laptop while another went on writing in it

The first two are settled by a ``resolution``. A sealed visit takes nothing but addenda, so whatever clashes in it is
settled by an addendum that names the entries.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from asfound.errors import InputError, UnknownNameError
from asfound.records import readings
from asfound.records.fold import named_in, side_by_side
from asfound.records.seal import AFTER_SEAL
from asfound.records.store import Draft

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from asfound.records.entries import Entry
    from asfound.records.fold import Fold
    from asfound.records.store import Records
    from asfound.records.view_parts import KeptReading

Kind = Literal["corrections", "readings", "sealed_twice", "after_seal"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One of the entries that clash."""

    entry: Entry
    reading: KeptReading | None
    """What was read, with instrument and doubt; None for other kinds of entry."""
    stands: bool
    """Whether it stands now."""
    earlier: tuple[str, ...] = ()
    """Of a reading: identifiers of those that the same laptop took of the same thing before it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Entries that two laptops wrote without knowing of each other."""

    kind: Kind
    about: Entry
    """The entry that was corrected twice, the first of the readings, or the seal. Its identifier names the clash."""
    engine: str | None
    visit: str | None
    sides: tuple[Side, ...]
    """In the order of their identifiers."""
    sealed: bool
    """Whether it lies in a sealed visit, so that only an addendum settles it."""
    chance: float | None = None
    """That two readings differ by so much through their doubts alone; None where it cannot be told."""


def clashes(records: Records, visit: str | None = None) -> tuple[Clash, ...]:
    """Return what waits for a person to settle it: of a visit, or of the whole home, by engine and time of writing.

    Parameters
    ----------
    records : Records
    visit : str, optional
        Identifier of a visit.
    """
    with records.steady():
        if visit is not None:
            return tuple(_of_visit(records, records.visit(visit).engine, visit))
        return tuple(_everywhere(records))


def _everywhere(records: Records) -> Iterator[Clash]:
    """Yield what clashes in the home, then by engine outside its visits and in each of them."""
    places = records.rows.clash_places()
    if (None, None) in places:
        yield from _corrections(records.fold(), None, None, records)
    engines = {engine for engine, _ in places}
    for engine in (one.id for one in records.engines() if one.id in engines):
        if (engine, None) in places:
            yield from _corrections(records.fold(engine), engine, None, records)
        for visit in records.visits(engine):
            if (engine, visit.id) in places:
                yield from _of_visit(records, engine, visit.id)


def settle(
    records: Records, about: str, choose: Sequence[str], *, why: str = "", who: str | None = None
) -> tuple[Entry, ...]:
    """Settle a clash and return the entries that were written for it.

    Parameters
    ----------
    records : Records
    about : str
        Identifier of the clash.
    choose : sequence of str
        Identifiers of the sides that stand: one, or several to keep both. The others are set aside; they stay in the
        record. In a sealed visit nothing changes what stands, and the addendum says what was chosen.
    why : str
        Reason, in words.
    who : str, optional
        Default: the person of the settings.

    Raises
    ------
    UnknownNameError
        Nothing clashes there, or an identifier in ``choose`` is not one of its sides.
    InputError
        Nothing was chosen.
    """
    known = {one.about.id: one for one in clashes(records)}
    if about not in known:
        raise UnknownNameError("clash", about, known)
    clash = known[about]
    sides = [one.entry.id for one in clash.sides]
    for one in choose:
        if one not in sides:
            raise UnknownNameError("side of this clash", one, sides)
    if not choose:
        raise InputError("choose", "", "is missing", try_next="Name what stands: one of them, or several to keep both.")
    chosen = [one for one in sides if one in choose]
    if clash.sealed:
        content = {
            "says": _addendum_says(clash, chosen, why),
            "time": records.clock.now().isoformat(timespec="seconds"),
            "about": sides,
        }
        return (records.append("addendum", content, visit=clash.visit, who=who),)
    before = _settled_before(records.fold(clash.engine, clash.visit), clash)
    not_chosen = [
        name for side in clash.sides if side.entry.id not in chosen for name in (side.entry.id, *side.earlier)
    ]
    earlier = {str(name) for one in before for name in one.content.get("set_aside", ())}
    content = {
        "about": about,
        "choose": chosen,  # what an earlier settlement set aside stays so
        "set_aside": [*not_chosen, *sorted(earlier - {*sides, *not_chosen})],
        "why": why,
    }
    drafts = [Draft(kind="withdrawn", content={"why": why}, corrects=one.id, who=who) for one in before[1:]]
    place = {"corrects": before[0].id} if before else {"engine": clash.engine, "visit": clash.visit}
    drafts.append(Draft(kind="resolution", content=content, who=who, **place))
    return tuple(records.append_many(drafts))


def _settled_before(folded: Fold, clash: Clash) -> list[Entry]:
    """Return the resolutions that stand about this clash: two that differ, or one that did not know of all sides."""
    sides = {one.entry.id for one in clash.sides}
    if clash.kind == "readings":
        return [one for one in folded.settled if side_by_side(one) and named_in(one) & sides]
    about = clash.about.id
    return [one for one in folded.settled if not side_by_side(one) and one.content.get("about") == about]


def _addendum_says(clash: Clash, chosen: Sequence[str], why: str) -> str:
    """Return the words of an addendum that settles a clash in a sealed visit."""
    if clash.kind == "sealed_twice":
        said = f"Closed {len(clash.sides)} times on laptops that did not know of each other; the first seal counts."
    else:
        said = f"{len(clash.sides)} entries came in after the seal, or clash in the sealed visit."
    if len(chosen) < len(clash.sides):
        said += f" To be relied on: {', '.join(chosen)}."
    return f"{said} {why}".strip()


# ---------------------------------------------------------------------- what clashes


def _of_visit(records: Records, engine: str, visit: str) -> Iterator[Clash]:
    """Yield what clashes in a visit."""
    folded = records.fold(engine, visit)
    entries = records.entries(visit=visit)
    seals = [one for one in entries if one.kind == "sealed"]
    spoken_of = {str(name) for one in entries if one.kind == "addendum" for name in one.content.get("about", ())}
    if len(seals) > 1 and any(one.id not in spoken_of for one in seals):
        sides = tuple(Side(entry=one, reading=None, stands=n == 0) for n, one in enumerate(seals))
        yield Clash(kind="sealed_twice", about=seals[0], engine=engine, visit=visit, sides=sides, sealed=True)
    if seals:
        late = [one for one in _late(seals[0], entries) if one.id not in spoken_of]
        if late:
            sides = _sides(late, folded, records)
            yield Clash(kind="after_seal", about=late[0], engine=engine, visit=visit, sides=sides, sealed=True)
        return  # what clashes under a seal came in after it, so it is among these
    yield from _corrections(folded, engine, visit, records)
    yield from _readings(folded, engine, visit, records)


def _late(seal: Entry, entries: Iterable[Entry]) -> list[Entry]:
    """Return the entries of a sealed visit that are not under its first seal."""
    listed = {str(one["id"]) for one in seal.content.get("entries", ())}
    return [one for one in entries if one.kind not in AFTER_SEAL and one.id not in listed]


def _corrections(folded: Fold, engine: str | None, visit: str | None, records: Records) -> Iterator[Clash]:
    """Yield entries that were put right twice."""
    for one in folded.conflicts:
        sides = _sides(one.between, folded, records)
        yield Clash(
            kind="corrections", about=one.about, engine=engine, visit=visit, sides=sides, sealed=False,
            chance=_chance(sides),
        )  # fmt: skip


def _readings(folded: Fold, engine: str, visit: str, records: Records) -> Iterator[Clash]:
    """Yield things that were read on two laptops with two outcomes, and that nobody settled."""
    in_correction = {one.id for conflict in folded.conflicts for one in conflict.stand}
    by_key: dict[str, list[KeptReading]] = {}
    for one in readings.kept(folded, records.instruments()):
        if not one.missing and one.entry.id not in in_correction:
            by_key.setdefault(one.key, []).append(one)
    for found in by_key.values():
        newest = {one.entry.device: one for one in found}  # by time: who repeats a reading knows the one before
        outcomes = {(one.value, one.censored, one.bound) for one in newest.values()}
        if len(newest) < 2 or len(outcomes) < 2:
            continue
        names = {one.entry.id for one in newest.values()}
        if any(side_by_side(one) and names <= named_in(one) for one in folded.settled) and not _differ(folded, names):
            continue
        sides = tuple(
            Side(
                entry=one.entry,
                reading=one,
                stands=True,
                earlier=tuple(
                    other.entry.id for other in found if other.entry.device == one.entry.device and other is not one
                ),
            )
            for one in sorted(newest.values(), key=lambda one: one.entry.id)
        )
        yield Clash(
            kind="readings", about=sides[0].entry, engine=engine, visit=visit, sides=sides, sealed=False,
            chance=_chance(sides),
        )  # fmt: skip


def _differ(folded: Fold, names: set[str]) -> bool:
    """Tell whether two resolutions about these entries contradict each other: one chooses what another sets aside."""
    about = [one for one in folded.settled if side_by_side(one) and named_in(one) & names]
    chosen = {name for one in about for name in one.content["choose"]}
    return any(name in chosen for one in about for name in one.content.get("set_aside", ()))


def _sides(entries: Iterable[Entry], folded: Fold, records: Records) -> tuple[Side, ...]:
    """Return entries as sides, readings with their instrument and doubt."""
    current = {one.id for one in folded.current}
    kept = {one.entry.id: one for one in readings.kept(folded, records.instruments())}
    return tuple(
        Side(entry=one, reading=kept.get(one.id), stands=one.id in current or bool(folded.standing(one.id)))
        for one in entries
    )


def _chance(sides: Sequence[Side]) -> float | None:
    """Return the chance that the two outermost readings differ by so much through their doubts alone."""
    found = [one for side in sides if (one := side.reading) is not None]
    taken = sorted((float(one.value), one.standard_uncertainty) for one in found if one.value is not None)
    if len(taken) < 2 or len(taken) != len(sides):
        return None
    doubt = math.hypot(taken[0][1], taken[-1][1])
    if not doubt > 0 or not math.isfinite(doubt):
        return None
    return math.erfc((taken[-1][0] - taken[0][0]) / doubt / math.sqrt(2))
