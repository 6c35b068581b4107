"""Two dirty logs whose correct import is known: imported afresh, every count beside what it must be."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from asfound.history.import_report import ImportReport
from asfound.history.importing import MemorySink, import_files
from asfound.history.ledger import Refusal
from asfound.history.log_form import LogForm
from asfound.history.mapping import Mapping as ColumnMapping
from asfound.history.mapping import scale_of
from asfound.history.proposing import propose
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

CASES = Path(__file__).parent / "data" / "import_cases"
ZONES = {"log_eu_semicolon": "Europe/Berlin", "log_us_comma": "America/Chicago"}


def checks() -> Iterator[Check]:
    """Yield each known number of the two imports."""
    answers = {case: _answers(case, zone) for case, zone in ZONES.items()}
    for row in load_csv("asfound.history", "data/published_import.csv"):
        yield Check.of_row("history", answers[row["case"]](row["of"]), row)


def _answers(case: str, zone: str) -> Callable[[str], float]:
    """Return what an import gives, asked by name."""
    path = CASES / f"{case}.txt"
    proposal = propose(path, zone=zone)
    report = import_files([path], MemorySink(), source=case, form=proposal.form, mapping=proposal.mapping_for_import())
    refusals = list(report.refusals or ())

    def answer(of: str) -> float:
        for found in (_count(of, report), _form_line(of, proposal.form), _line(of, refusals), _word(of, report)):
            if found is not None:
                return found
        return _of_channel(of, report, proposal.mapping)

    return answer


def _count(of: str, report: ImportReport) -> float | None:
    known: Mapping[str, float] = {
        "rows kept": report.kept, "rows refused": report.refused, "first time": (report.first or 0) / 1e6,
        "last time": (report.last or 0) / 1e6, "gaps over 5 steps": len(report.gaps),
        **{f"gap {at} {side}": time / 1e6
           for at, gap in enumerate(report.gaps, 1) for side, time in zip(("from", "until"), gap, strict=True)},
    }  # fmt: skip
    return known.get(of)


def _form_line(of: str, form: LogForm) -> float | None:
    return {"header line": form.header_line, "unit line": form.unit_line}.get(of)


def _line(of: str, refusals: list[Refusal]) -> float | None:
    kind, _, at = of.partition(" ")
    if kind in ("duplicate", "conflict"):
        return [one.line for one in refusals if one.kind == kind][int(at) - 1]
    if of.startswith("line refused: "):
        why = of.removeprefix("line refused: ")
        return next((one.line for one in refusals if one.kind == "row" and one.why == why), -1)
    return None


def _word(of: str, report: ImportReport) -> float | None:
    kind, _, word = of.partition(" ")
    if kind not in ("state", "note"):
        return None
    return sum(counted.get(word, 0) for counted in report.words.values())


def _of_channel(of: str, report: ImportReport, mapping: ColumnMapping) -> float:
    """Return count, mean, least or largest of a column, in the unit of its file."""
    head, _, what = of.rpartition(": ")
    column = mapping.of(head)
    sums = report.channels[column.channel]
    if what == "n":
        return sums.n
    scale, zero = scale_of(column.quantity, column.unit, mapping.barometer) if column.quantity else (1.0, 0.0)
    return ({"mean": sums.mean, "min": sums.low, "max": sums.high}[what] - zero) / scale
