"""`asfound emission-test`: a formal test of the exhaust from a file, judged by the clauses of its methods."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.cli.answer import answer, coloured, columns, ready, wrapped
from asfound.cli.find import kept, opened, tail, view_of, writer
from asfound.cli.options import Hand
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.exhaust.test_run_judge import Assessment, Judged


def emission_test(file: Path, visit: str = "", /, *, source: str = "", hand: Hand = Hand()) -> None:
    """Judge a test of several runs from a file; with a visit, bring it in.

    asfound emission-test test.csv            judges it and keeps nothing
    asfound emission-test test.csv A2         brings it into the visit: its runs go on the sheet

    Parameters
    ----------
    file
        Table (.csv, .xlsx, .ods) or .yaml; docs/exhaust.md shows the layout.
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    source
        Who made the test, with the number of its report.
    """
    from asfound.exhaust.test_run_judge import judge
    from asfound.records.emission_tests import bring_in, read_content

    try:
        content = file.read_bytes()
    except OSError as fault:
        raise InputError("file", str(file), f"cannot be read: {fault.strerror}") from None
    found = judge(read_content(content, file.name))
    data = _as_dict(found)
    if not visit:
        answer(hand, data, lambda: _told(found))
        return
    records = opened(hand)
    entry = bring_in(
        records, view_of(records, visit), found.test, content=content, filename=file.name,
        who=writer(hand, records), source=source,
    )  # fmt: skip
    answer(hand, kept(entry) | {"judged": data}, lambda: [*_told(found), f"Kept {tail(entry.id)}: {file.name}"])


def _as_dict(found: Assessment) -> dict[str, Any]:
    test = found.test
    return {
        "rule": test.rule,
        "complete": found.complete,
        "runs": [
            {
                "run": run.number,
                "gas": gas,
                "value": ready(found.results[run.number, gas].value),
                "unit": test.gases[gas].unit,
                "valid": found.valid(run.number, gas),
                "invalid_because": [one.criterion.clause for one in found.invalid_because(run.number, gas)],
            }
            for run in test.runs
            for gas in run.gases
            if (run.number, gas) in found.results
        ],
        "means": {gas: ready(found.mean(gas)) for gas in test.gases},
        "not_kept": [_criterion(one) for one in found.failed],
        "cannot_be_told": [_criterion(one) for one in found.open],
    }


def _criterion(one: Judged) -> dict[str, Any]:
    return {
        "criterion": one.criterion.id, "gas": one.gas, "run": one.run, "value": ready(one.value),
        "limit": one.criterion.limit, "unit": one.criterion.unit, "clause": one.criterion.clause,
        "seen": one.criterion.doubt, "says": one.says, "lacking": one.lacking,
    }  # fmt: skip


def _told(found: Assessment) -> Iterator[str]:
    test = found.test
    yield coloured("Enough runs stand for every gas." if found.complete else "The test is not complete.", "head")
    rows = []
    for gas, setup in test.gases.items():
        values = [
            f"{found.results[run.number, gas].value:.4g}" + ("" if found.valid(run.number, gas) else " invalid")
            if (run.number, gas) in found.results
            else ""
            for run in test.runs
        ]
        mean = found.mean(gas)
        rows.append((gas, *values, "" if mean is None else f"{mean:.4g}", setup.unit, setup.basis))
    yield from columns(rows, ("gas", *(f"run {run.number}" for run in test.runs), "mean", "unit", ""))
    for title, ones in (("Not kept", found.failed), ("Cannot be told yet", found.open)):
        if ones:
            yield coloured(title, "head")
        for one in ones:
            yield from wrapped(one.says + (f" Enter {one.lacking}." if one.lacking else ""), "  ")
