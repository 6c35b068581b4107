"""The page of the quantities, made from their register.

``python -m asfound.quantities.nomenclature > docs/quantities.md``
"""

from __future__ import annotations

from collections.abc import Iterator

from asfound.quantities.register import STEPS, Quantity, quantities
from asfound.sources.register import cite

HEADINGS = {
    "fitted": "What is fitted",
    "fuel": "Fuel gas",
    "load": "Load",
    "exhaust": "Exhaust",
    "cylinders": "Cylinders",
    "other": "All other readings",
}
INTRODUCTION = """# Quantities

Everything that a visit reads or computes has one name: in a form, on the command line, in a file, in a report. Inside,
every value is in its SI unit; a gas volume counts at the state that stands beside it. The plausible range refuses
nothing: a reading outside it is asked about. *Carries*: holds for both columns of a visit until taken again.

This page is made from the register: `python -m asfound.quantities.nomenclature > docs/quantities.md`. To add a
quantity, add a row to `src/asfound/quantities/data/quantities.csv`."""


def page() -> str:
    """Return the whole page as Markdown."""
    return "\n".join(_lines()) + "\n"


def _lines() -> Iterator[str]:
    known = quantities().values()
    used: dict[str, None] = {}
    yield INTRODUCTION
    for step in STEPS:
        yield f"\n## {HEADINGS[step]}\n"
        yield "| name | what | SI | shown (SI, US) | UCUM | plausible | range from | carries |"
        yield "| --- | --- | --- | --- | --- | --- | --- | --- |"
        for one in known:
            if one.step == step:
                used[one.plausible_source] = None
                yield _row(one)
    yield "\n## Where the ranges come from\n"
    for key in sorted(used):
        yield f"- `{key}`: {cite(key)}"


def _row(one: Quantity) -> str:
    low, high, written_in = one.plausible_as_written
    basis = f", {one.basis}" if one.basis and one.basis not in one.title else ""
    said = f"{one.title}{basis}." + (f" {one.help}" if one.help else "")
    shown = one.si_display if one.si_display == one.us_display else f"{one.si_display}, {one.us_display}"
    cells = (
        f"`{one.name}`",
        said,
        one.si_unit,
        shown,
        f"`{one.unit.ucum}`" if one.unit.ucum else "",
        f"{low:,g} to {high:,g} {'' if written_in == '1' else written_in}".strip(),
        f"`{one.plausible_source}`",
        "yes" if one.carries else "",
    )
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


if __name__ == "__main__":
    print(page(), end="")
