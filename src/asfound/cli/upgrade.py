"""`asfound upgrade`: targets compared, the cheapest way, what follows, and what it is worth; choose a target."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from asfound.cli.answer import answer, coloured, columns, wrapped
from asfound.cli.find import opened, writer
from asfound.cli.options import Hand, Paper
from asfound.errors import InputError, RecordError, UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.records.store import Records
    from asfound.report.content_upgrade import UpgradeShown


def upgrade(
    engine: str,
    /,
    *values: str,
    target: str = "",
    choose: bool = False,
    why: str = "",
    pdf: Path | None = None,
    paper: Paper = "home",
    hand: Hand = Hand(),
) -> None:
    """Compare the targets of an upgrade, show the cheapest way to one, what follows from it and what it is worth.

    asfound upgrade A1

    asfound upgrade A1 --target full --pdf a1.pdf

    asfound upgrade A1 margin=180 fuel_price=6 --target full --choose --why 'new gas contract'

    Parameters
    ----------
    engine
        Tag of the engine.
    values
        assumption=value: kept with the target where --choose is given. `asfound upgrade A1 --json` has their names.
    target
        Which target is shown in full; the one on the record, or the first that has a way.
    choose
        Keep target and assumptions on the record.
    why
        The reason of the choice.
    pdf
        Write the page for the manager as PDF to this file.
    paper
        Its sheet: that of the home, or a4, letter.
    """
    from asfound.records.upgrade_of_engine import keep_plan, upgrade_of
    from asfound.report.content_upgrade import upgrade_shown

    records = opened(hand)
    found = records.engine(engine)
    changed = _values(values, records)
    if changed and not choose:
        raise InputError("values", values[0], "are kept only with a target", try_next="Add --choose --target NAME.")
    seen = upgrade_of(records, found, target=target)
    if target and seen.study is not None and seen.study.target(target) is None:
        raise UnknownNameError("target", target, [one.id for one in seen.study.targets])
    if choose:
        if not target:
            raise InputError("target", "", "is missing", try_next="Say which is chosen: --target NAME.")
        keep_plan(records, found, target, changed, who=writer(hand, records), why=why)
        seen = upgrade_of(records, found, target=target)
    written = []
    if pdf is not None:
        from asfound.cli.speaking import reader_of_home
        from asfound.language import reading_as
        from asfound.report.typeset import manager_sheet

        with reading_as(reader_of_home(records, paper=paper)):
            content = manager_sheet(seen, found, records.clock.now().date())
        try:
            pdf.write_bytes(content)
        except OSError as fault:
            raise RecordError(f"{pdf} cannot be written: {fault.strerror}. Name another file.") from fault
        written.append(f"Written: {pdf}, {len(content):,} bytes")
    data = {
        "problem": seen.problem,
        "chosen": seen.chosen.id if seen.chosen else None,
        "study": seen.study.as_dict() if seen.study else None,
        "case": seen.case.as_dict() if seen.case else None,
        "assumptions_fit": seen.fits,
    }
    answer(hand, data, lambda: [*_told(found.tag, upgrade_shown(seen)), *written])


def _values(values: tuple[str, ...], records: Records) -> dict[str, float]:
    """Return assumptions from name=value."""
    from asfound.quantities.parse import parse_number
    from asfound.upkeep.case_inputs import fields

    found = {}
    for one in values:
        name, sign, text = one.partition("=")
        if not sign or name not in fields():
            raise InputError("values", one, "is no assumption with its value", allowed=", ".join(fields()))
        number = parse_number(text, field=name, decimal=records.settings.typed_decimal or None).value
        if number is None:
            raise InputError(name, text, "is no number")
        found[name] = float(number)
    return found


def _told(tag: str, shown: UpgradeShown) -> Iterator[str]:
    if shown.problem:
        yield coloured(f"{tag}: no study can be drawn up.", "head")
        yield from wrapped(shown.problem)
        return
    yield coloured(f"{tag}: {shown.title}. Amounts in {shown.money}.", "head")
    rows = [
        (
            ">" if one.chosen else "",
            one.id,
            one.title,
            one.cost,
            one.range,
            one.stops,
            one.changes,
            one.outage,
            one.says,
        )
        for one in shown.targets
    ]
    head = ("", "target", "title", "cost", "range", "stops", "changes", "stands", "")
    yield from columns(rows, head, right=(3, 5, 6))
    if shown.no_way:
        yield ""
        for said in shown.no_way:
            yield from wrapped(said)
    if shown.chosen and shown.stops:
        yield ""
        yield coloured(f"The way to {shown.chosen.title}", "head")
        for look in shown.looks:
            yield from wrapped(f"Look first: {look}", "  ")
        for stop in shown.stops:
            yield from wrapped(f"{stop.title}: {stop.minutes} of work, {stop.cost}", "  ")
            for step in stop.steps:
                yield from wrapped(f"{step.title}: {step.cost}, {step.minutes}. {step.without}", "     ")
        yield from wrapped(shown.proof, "  ")
    for title, fate, more in shown.leaves:
        yield from wrapped(f"comes off: {title}, {fate}" + (f" ({more})" if more else ""), "  ")
    for title, names in shown.follows:
        yield from wrapped(f"{title}: {'; '.join(names)}", "  ")
    yield from _money(shown)


def _money(shown: UpgradeShown) -> Iterator[str]:
    case = shown.case
    if case is None:
        return
    yield ""
    yield coloured(case.headline, "head")
    if not case.fits:
        yield from wrapped("The assumptions were written for another target: they may not hold for this one.", "  ")
    for said in case.says[1:]:
        yield from wrapped(said, "  ")
    yield from columns([(f"  {title}", yearly or "once", present) for title, yearly, present in case.lines],
                       ("  item", "first year", "worth now"), right=(1, 2))  # fmt: skip
    yield ""
    yield coloured("Assumptions", "head")
    yield from columns(
        [(f"  {one.name}", one.best, one.range, one.unit, one.source) for one in case.assumptions],
        ("  name", "best", "range", "unit", "from"), right=(1,),
    )  # fmt: skip
    yield from wrapped(f"Not given, so counted as none: {', '.join(case.none_counted) or 'nothing'}.", "  ")
    yield from wrapped(case.convention, "  ")
