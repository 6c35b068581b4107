"""`asfound gas blend`, `log`, `limits`: two sources mixed, the log of a chromatograph, what documents allow."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.cli import DONE, NO
from asfound.cli.answer import answer, columns, ready
from asfound.cli.gas_given import How, as_whole, given, reference_of
from asfound.cli.options import Hand, Home, Out
from asfound.errors import InputError

if TYPE_CHECKING:
    from asfound.fuel.composition import Composition


def blend(
    first: str,
    second: str,
    /,
    *,
    share: float | None = None,
    into: str = "",
    state: str = "as_left",
    least_methane_number: float | None = None,
    most_wobbe_change: float | None = None,
    reference: str = "15/15",
    how: How = How(),
    hand: Hand = Hand(),
) -> None:
    """Mix two sources: what a new well does, how much of it may come, or one mixture taken into a visit.

    asfound gas blend A2 new_well.csv --least-methane-number 70 --most-wobbe-change 3

    asfound gas blend A2 new_well.csv --share 25 --into A2

    Parameters
    ----------
    first
        A file or a visit: the gas now.
    second
        A file or a visit: the gas to come.
    share
        Of the second, in per cent of the mixture's volume: this mixture alone.
    into
        Visit that the mixture is taken into.
    state
        as_found or as_left.
    least_methane_number
        What the build needs; 2 above it is asked for.
    most_wobbe_change
        How far the Wobbe index may move, in per cent.
    reference
        Combustion and metering temperature: 15/15, 25/0, 60F/60F@14.73 psia.
    """
    from asfound.cli.gas_told import along, changes, gas_data
    from asfound.fuel.blend import blend as mixed
    from asfound.fuel.gas_summary import compared, new_well

    one, other = (as_whole(given((word,), how, hand).whole()) for word in (first, second))
    at = reference_of(reference)
    if share is None:
        if into:
            raise InputError("share", "", "is missing", try_next="Say --share: which mixture is to be taken.")
        found = new_well(
            one, other, reference=at, least_methane_number=least_methane_number,
            most_wobbe_change=None if most_wobbe_change is None else most_wobbe_change / 100,
        )  # fmt: skip
        limited = least_methane_number is not None or most_wobbe_change is not None
        said = (
            "The gas now does not meet the limits." if found.most is None
            else f"Up to {100 * found.most:.0f} % of the second may come."
        )  # fmt: skip
        data = {"shares": ready(found.shares), "values": ready(dict(found.values)), "most": found.most}
        answer(hand, data, lambda: [*along(found), *([said] if limited else [])])
        return
    made = mixed(one, other, share / 100)
    entries = _into(into, made, state, hand) if into else []
    changed = compared(one, made, at)
    answer(
        hand,
        {"gas": gas_data(made), "change": [ready(each) | {"change": each.text} for each in changed],
         "kept": [entry.id for entry in entries]},
        lambda: [*changes(changed), *([f"Kept {len(entries)} entries in {into}."] if entries else [])],
    )  # fmt: skip


def _into(visit: str, made: Composition, state: str, hand: Hand) -> list[Any]:
    """Take a mixture into a visit; what it was mixed of is kept as a text."""
    from asfound.cli.find import opened, state_of, view_of, writer
    from asfound.records.gas_analysis import Paper
    from asfound.records.gas_analysis import take as keep

    records = opened(hand)
    text = "\n".join([made.source, "mol %", *(f"{name}\t{100 * x:.6g}" for name, x in made.by_name.items())])
    return keep(
        records, view_of(records, visit), made, papers=(Paper(content=text.encode(), filename="mixture.txt"),),
        state=state_of(state) or "as_left", who=writer(hand, records), source=f"mixture: {made.source}",
        caption=f"Mixture of two sources: {made.source}",
    )  # fmt: skip


def log(
    file: Path,
    /,
    *,
    out_file: Path | None = None,
    reference: str = "15/15",
    how: How = How(),
    out: Out = Out(),
) -> None:
    """Work out the log of a gas chromatograph: a component in each column, a gas in each row.

    Parameters
    ----------
    file
        CSV, xlsx or ods.
    out_file
        CSV to write, a row for each gas; without it only least, middle and most are told.
    reference
        Combustion and metering temperature: 15/15, 25/0, 60F/60F@14.73 psia.
    """
    from asfound.cli.gas_log import told, worked, write

    found = worked(file, how, reference_of(reference))
    if out_file is not None:
        write(found, out_file)
    answer(out, found.data | {"written": str(out_file) if out_file else None}, lambda: told(found, out_file))


def limits(*what: str, document: str = "", groups: tuple[str, ...] = (), how: How = How(), where: Home = Home()) -> int:
    """List the packaged limits of gas quality, or judge a gas by one document. The engine's own goes before them.

    Exits 1 when the gas violates a limit.

    Parameters
    ----------
    what
        A file, - or a visit; without it the documents are listed.
    document
        Whose limits.
    groups
        Groups of limits that apply besides, several: 'sensitive point'.
    """
    from asfound.fuel.limits import documents, judge, quality_limits
    from asfound.fuel.quality_of_gas import values_for

    if not what or not document:
        rows = [
            (one.document, one.group, one.says, one.found) for one in quality_limits() if document in ("", one.document)
        ]
        data = [ready(one) for one in quality_limits() if document in ("", one.document)]
        answer(where, data, lambda: columns(rows, ("document", "for", "limit", "seen")))
        if what and not document:
            raise InputError("document", "", "is not said", allowed=", ".join(documents()))
        return DONE
    one = given(what, how, where)
    judged = judge(values_for(as_whole(one.whole()), one.traces, document), document, groups=groups)
    words = [(each.verdict, each.limit.says, "" if each.value != each.value else f"{each.value:.5g}", each.limit.found)
             for each in judged]  # fmt: skip
    answer(where, [ready(each) for each in judged], lambda: columns(words, ("", "limit", "gas", "seen"), right=(2,)))
    return NO if any(each.verdict == "violates" for each in judged) else DONE
