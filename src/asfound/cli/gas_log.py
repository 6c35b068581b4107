"""The log of a gas chromatograph worked out: what each gas is, in one call, and how it is told and written."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from asfound.cli.answer import coloured, columns, ready

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from asfound.cli.gas_given import How
    from asfound.fuel.gas_log import GasLog
    from asfound.fuel.iso6976 import Reference
    from asfound.quantities.typing import Array

UNITS = {
    "sum": ("%", 100.0),
    "heating value, gross": ("MJ/m3", 1e-6),
    "Wobbe index": ("MJ/m3", 1e-6),
    "relative density": ("", 1.0),
    "methane number": ("", 1.0),
    "air needed": ("mol/mol", 1.0),
}
"""What is told of each gas: unit, and what its SI value is multiplied with."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Worked:
    """A log and what its gases are."""

    log: GasLog
    values: dict[str, Array]
    """(n,) each, by the names of `UNITS`, SI; nan where a gas has no answer."""

    @property
    def data(self) -> dict[str, Any]:
        """The log as JSON holds it."""
        return {
            "gases": len(self.log.rows),
            "basis": self.log.basis,
            "components": list(self.log.components),
            "labels": list(self.log.labels),
            "values": {name: ready(one) for name, one in self.values.items()},
            "refused": [
                {"row": one.row, "component": one.component, "text": one.text, "because": str(one.error)}
                for one in self.log.refused
            ],
        }


def worked(file: Path, how: How, reference: Reference) -> Worked:
    """Return what the gases of a log are; each is scaled to 100 % where that was asked, else it must add up."""
    from asfound.fuel import iso6976
    from asfound.fuel.composition import normalise
    from asfound.fuel.gas_log import read_log
    from asfound.fuel.gas_summary import methane_number_of
    from asfound.fuel.stoichiometry import stoichiometry

    log = read_log(
        file, sheet=how.sheet, basis=how.basis, heavier=how.heavier or None, decimal=how.decimal, reference=reference,
        strict=not how.leave_refused,
    )  # fmt: skip
    totals = log.totals
    x = normalise(log.fractions)[0] if how.scale else log.fractions
    found = iso6976.properties(x, log.components, reference)
    return Worked(
        log=log,
        values={
            "sum": totals,
            "heating value, gross": np.asarray(found.volume_gross),
            "Wobbe index": np.asarray(found.wobbe_gross),
            "relative density": np.asarray(found.relative_density),
            "methane number": methane_number_of(x, log.components),
            "air needed": np.asarray(stoichiometry(x, log.components).dry_air),
        },
    )


def told(found: Worked, out_file: Path | None) -> Iterator[str]:
    """Yield least, middle and most of each number, and what was refused."""
    rows = []
    for name, (unit, factor) in UNITS.items():
        one = found.values[name] * factor
        good = one[np.isfinite(one)]
        ends = [f"{end:.5g}" for end in (good.min(), np.median(good), good.max())] if good.size else ["", "", ""]
        rows.append((name, unit, *ends, f"{good.size} of {one.size}"))
    yield from columns(rows, ("", "", "least", "middle", "most", "gases"), right=(2, 3, 4, 5))
    without = int((~np.isfinite(found.values["heating value, gross"])).sum())
    if without:
        yield coloured(f"{without} gases have no answer: a cell is empty, or the sum is not 100 % (--scale).", "visit")
    yield from (f"Refused: {one.error}" for one in found.log.refused[:20])
    if len(found.log.refused) > 20:
        yield f"... and {len(found.log.refused) - 20} more cells."
    if out_file is not None:
        yield f"Written: {out_file}"


def write(found: Worked, path: Path) -> None:
    """Write a CSV with a row for each gas; no answer is an empty cell."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\r\n")
        heads = [f"{name} [{unit}]" if unit else name for name, (unit, _) in UNITS.items()]
        writer.writerow(["row", "label", *heads])
        table = [found.values[name] * factor for name, (_, factor) in UNITS.items()]
        for at, (row, label) in enumerate(zip(found.log.rows, found.log.labels, strict=True)):
            cells = [f"{column[at]:.7g}" if np.isfinite(column[at]) else "" for column in table]
            writer.writerow([row, f"'{label}" if label.startswith(("=", "+", "-", "@")) else label, *cells])
