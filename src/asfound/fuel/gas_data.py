"""A gas, and how a report was understood, as plain data: what commands and the HTTP door answer programs with."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from asfound.fuel.composition import Composition
from asfound.fuel.gas_summary import Property
from asfound.fuel.understood import Row, Understood


def understood_data(found: Understood) -> dict[str, Any]:
    """Return how a report was understood: lines, what has to be said first, notes."""
    return {
        "lines": [_line(row) for row in found.rows],
        "basis": found.basis,
        "to_be_said": [str(question) for question in found.questions],
        "stated_total": found.stated_total,
        "notes": list(found.notes),
    }


def _line(row: Row) -> dict[str, Any]:
    """Return one line; amounts are shares [mol/mol in the basis of the report], traces kg/m³(n)."""
    return {
        "line": row.number,
        "text": row.text,
        "kind": row.kind,
        "means": row.line.component if row.line else row.means,
        "amount": row.line.fraction if row.line else row.trace.value if row.trace else None,
        "standard_uncertainty": row.line.standard_uncertainty if row.line else None,
        "because": str(row.error) if row.error else "",
    }


def composition_data(gas: Composition) -> dict[str, Any]:
    """Return a gas: components with share and standard uncertainty, sum, date, source."""
    triples = zip(gas.components, gas.fractions.tolist(), gas.standard_uncertainties.tolist(), strict=True)
    return {
        "components": {name: {"fraction": x, "standard_uncertainty": u} for name, x, u in triples},
        "total_analysed": gas.total_analysed,
        "scaled": gas.scaled,
        "sampled": str(gas.sampled) if gas.sampled else None,
        "source": gas.source,
        "heavier": dict(gas.heavier),
    }


def property_data(one: Property) -> dict[str, Any]:
    """Return one number about a gas."""
    return asdict(one)
