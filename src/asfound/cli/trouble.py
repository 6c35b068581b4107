"""`asfound trouble`: what is wrong, what to try next, what was tried, how a case ended; more in `trouble_known`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from cyclopts import App

from asfound.cli.answer import answer
from asfound.cli.find import kept, opened, tail, time_of, view_of, writer
from asfound.cli.options import Hand, Home, Out
from asfound.errors import InputError, UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.visit import VisitView

trouble = App(name="trouble")


@trouble.default
def show(visit: str, /, *, plan: bool = False, without_closed: bool = False, home: Home = Home()) -> None:
    """Show what is wrong on a visit: causes with their chance, what they rest on, the next step with its cautions.

    asfound trouble A2

    asfound trouble A2 --plan      the whole plan, answer by answer

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    plan
        Also every step of the plan with what follows each answer.
    without_closed
        Leave the closed cases of this home out of the chances.
    """
    from asfound.cli.trouble_told import plan_told, told, trouble_json

    seen = view_of(opened(home), visit)
    found = seen.trouble_without_closed if without_closed else seen.trouble

    def lines() -> Iterator[str]:
        yield from told(found)
        if plan:
            yield from plan_told(found)

    answer(home, trouble_json(seen, found), lines)


@trouble.command
def saw(
    visit: str,
    symptom: str,
    says: Literal["present", "absent", "not_judged", "not_told"],
    /,
    *,
    place: str = "",
    by: str = "",
    note: str = "",
    at: str = "",
    hand: Hand = Hand(),
) -> None:
    """Keep what was seen of a symptom.

    asfound trouble saw A3 misfire_one present --place L2

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    symptom
        Its name, or words of its title that no other has: `asfound trouble names symptoms` lists them.
    says
        absent: looked for and not found; not_told takes back what was said.
    place
        Cylinder, bearing, side.
    by
        Who saw it, if not who writes.
    note
        In words.
    at
        When, if not now.
    """
    from asfound.records.trouble_files import knowledge_of
    from asfound.records.trouble_say import say_symptom

    records = opened(hand)
    seen = view_of(records, visit)
    name = named({key: one.title for key, one in knowledge_of(records).symptoms.items()}, symptom, "symptom", ("s_",))
    entry = say_symptom(
        records, seen, name, says, place=place, by=by, note=note, who=writer(hand, records), time=time_of(records, at)
    )
    _kept(hand, records, seen, entry)


@trouble.command
def tried(
    visit: str,
    step: str,
    says: Literal["positive", "negative", "cured", "fails", "not_judged", "not_done", "not_told"],
    /,
    *,
    place: str = "",
    minutes: float | None = None,
    by: str = "",
    note: str = "",
    at: str = "",
    hand: Hand = Hand(),
) -> None:
    """Keep the outcome of a test (positive, negative) or of a repair (cured, fails: the fault is still there).

    asfound trouble tried A3 t_coil_swap positive --place L2 --minutes 30

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    step
        Its name, or words of its title that no other has: `asfound trouble names steps` lists them.
    says
        not_judged: made, and it could not be told; not_done: not made; not_told takes back what was said.
    place
        Cylinder, bearing, side.
    minutes
        How long it took.
    by
        Who made it, if not who writes.
    note
        In words.
    at
        When, if not now.
    """
    from asfound.records.trouble_files import knowledge_of
    from asfound.records.trouble_say import say_step

    records = opened(hand)
    seen = view_of(records, visit)
    known = knowledge_of(records)
    steps = {**known.tests, **known.repairs}
    name = named({key: one.title for key, one in steps.items()}, step, "test or repair", ("t_", "r_"))
    entry = say_step(
        records, seen, name, says, place=place, minutes=minutes, by=by, note=note, who=writer(hand, records),
        time=time_of(records, at),
    )  # fmt: skip
    _kept(hand, records, seen, entry)


@trouble.command
def may(
    visit: str,
    /,
    *,
    run: Literal["yes", "no"] = "yes",
    stop: Literal["yes", "no"] = "yes",
    isolate: Literal["yes", "no"] = "yes",
    barred: tuple[str, ...] = (),
    why: str = "",
    at: str = "",
    hand: Hand = Hand(),
) -> None:
    """Keep what may be done with the engine now; steps that need what is not allowed are not proposed.

    asfound trouble may N1 --stop no --why 'no stop without the duty officer'

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    run
        Whether it may run; no: it does not start, or it was decided that it does not run on.
    stop
        Whether it may be stopped.
    isolate
        Whether it may be isolated.
    barred
        Hazards that are not allowed now, by their tags: gas, confined, noise.
    why
        Who says so.
    at
        When, if not now.
    """
    from asfound.records.trouble_say import say_allowed

    records = opened(hand)
    seen = view_of(records, visit)
    entry = say_allowed(
        records, seen, can_run=run == "yes", may_stop=stop == "yes", may_isolate=isolate == "yes", barred=barred,
        why=why, who=writer(hand, records), time=time_of(records, at),
    )  # fmt: skip
    _kept(hand, records, seen, entry)


@trouble.command
def close(
    visit: str,
    cause: str,
    confirmed: Literal["cured", "seen", "believed"],
    /,
    *,
    part: str = "",
    note: str = "",
    at: str = "",
    hand: Hand = Hand(),
) -> None:
    """Close a case with its cause; `asfound undo ENTRY` opens it again and takes its count away.

    asfound trouble close A3 c_coil cured --part 'coil of L2'

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    cause
        Its name, or words of its title that no other has; other: something else, or more than one thing.
    confirmed
        cured: the repair cured it; seen: the fault itself was seen; believed: neither, and it does not count.
    part
        The part that was at fault.
    note
        In words.
    at
        When, if not now.
    """
    from asfound.records.trouble_files import knowledge_of
    from asfound.records.trouble_say import close_case
    from asfound.troubleshoot.belief import OTHER, OTHER_TITLE

    records = opened(hand)
    seen = view_of(records, visit)
    titles = {key: one.title for key, one in knowledge_of(records).causes.items()} | {OTHER: OTHER_TITLE}
    name = named(titles, cause, "cause", ("c_",))
    entry = close_case(
        records, seen, name, confirmed, part=part, note=note, who=writer(hand, records), time=time_of(records, at)
    )
    answer(hand, kept(entry), lambda: [f"Closed {tail(entry.id)}: {titles[name]}, {confirmed}"])


@trouble.command
def guard(
    visit: str,
    protection: str,
    says: Literal["in_force", "off", "bypassed", "setting_moved", "not_judged"],
    /,
    *,
    called: str = "",
    place: str = "",
    how: Literal["seen", "tested", "read", "said", "paper"] = "seen",
    note: str = "",
    at: str = "",
    hand: Hand = Hand(),
) -> None:
    """Keep what was seen of a protection; one that is not in force is a finding.

    asfound trouble guard A2 overspeed bypassed --note 'wire across its contact'

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    protection
        Its name: `asfound trouble names protections` lists them; other with --called.
    says
        setting_moved: set otherwise than the signed list says.
    called
        As the controls or the drawing call it.
    place
        Where it is.
    how
        How it is known.
    note
        In words.
    at
        When, if not now.
    """
    from asfound.records.trouble_say import say_protection

    records = opened(hand)
    seen = view_of(records, visit)
    entry = say_protection(
        records, seen, protection, says, called=called, place=place, how=how, note=note,
        who=writer(hand, records), time=time_of(records, at),
    )  # fmt: skip
    answer(hand, kept(entry), lambda: [f"Kept {tail(entry.id)}: {protection} {says}"])


def named(known: Mapping[str, str], text: str, kind: str, prefixes: tuple[str, ...]) -> str:
    """Return the name that a text means: the name itself, without its prefix, or words of one title only."""
    for name in (text, *(prefix + text for prefix in prefixes)):
        if name in known:
            return name
    found = [name for name, title in known.items() if text.casefold() in title.casefold()]
    if len(found) == 1:
        return found[0]
    if found:
        raise InputError(kind, text, f"is in {len(found)} titles", allowed=", ".join(found[:8]))
    raise UnknownNameError(kind, text, known)


def _kept(hand: Out, records: Records, before: VisitView, entry: Entry) -> None:
    """Answer what was kept and what it did to the belief."""
    from asfound.records.visit import view

    after = view(records, before.id).trouble
    was = {one.id: one.p for one in before.trouble.causes}
    data = kept(entry) | {
        "says": after.says,
        "causes": [{"id": one.id, "before": was.get(one.id), "after": one.p} for one in after.causes[:5]],
    }

    def told() -> Iterator[str]:
        yield f"Kept {tail(entry.id)}. {after.says}"
        if after.decision is not None:
            yield f"Next: {after.decision.first.title}"

    answer(hand, data, told)
