"""Findings of the cross-check about the mixture itself: exhaust that does not belong to the engine, a side not read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from asfound.crosscheck.findings_words import AT_THE_ENGINE, listed
from asfound.crosscheck.of_case import readings_at
from asfound.crosscheck.outcome import CrossCheck
from asfound.crosscheck.plant_of_case import burning_of
from asfound.quantities.display import show
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding, Reading, State

TOLD = {"exhaust_oxygen_dry": "oxygen", "exhaust_co_dry": "CO"}
OWN_SENSORS = ("oxygen_sensor_reading", "exhaust_oxygen_wet")


def of_mixture(case: Case, state: State, found: CrossCheck | None) -> Iterator[Finding]:
    """Yield what speaks against the mixture that the engine is built for, and what near lambda 1 was not read."""
    there = readings_at(case.worked.readings, state)
    burns = burning_of(there, case.engine)
    if not burns.stoichiometric:
        if not burns.looks_lean:
            yield _not_lean(there, state)
        return
    if found is None or "excess_air_ratio" not in found.assembled.balances.unmeasured:
        return
    cannot = list(_cannot(there, found))
    if cannot:
        yield Finding(
            code="CC-21",
            subject="crosscheck",
            says="The engine burns near lambda 1, and its exhaust is not known whole: " + listed(cannot),
            severity="note",
            next_step="Read oxygen, CO and NOx before the catalyst and behind it within one steady quarter of an hour, "
            "carbon dioxide too where the analyser measures it: then mixture, catalyst and analyser check each other.",
            because=tuple(one.key for one in _read(there)),
            cautions=("co", *AT_THE_ENGINE),
            state=state,
        )


def _cannot(there: Mapping[tuple[str, str], Reading], found: CrossCheck) -> Iterator[str]:
    """Yield what is assumed or left out, in words."""
    assumed = found.assembled.assumed
    at = dict(zip(found.assembled.readings.names, found.assembled.readings.values, strict=True))
    if "exhaust_co_dry" in assumed:
        about = found.assembled.values["exhaust_co_dry"]
        doubt = f" (give or take {100 * about.u:.1f})" if about.u else ""
        yield (
            f"no CO was read before the catalyst, {100 * at['exhaust_co_dry']:.1f} %{doubt} with its hydrogen is "
            "assumed, and the temperature rise of the catalyst stands in no balance"
        )
    if any(name in OWN_SENSORS for name, _ in there):
        yield (
            "a zirconia sensor burns on itself what the cylinders left and shows only the oxygen beyond that, so it is "
            "not compared by volume"
        )


def _not_lean(there: Mapping[tuple[str, str], Reading], state: State) -> Finding:
    """Return that a lean-burn engine shows exhaust of another one."""
    read = _read(there)
    words = ", ".join(f"{one.as_typed or show(one.value, one.quantity)} {TOLD[one.quantity]}" for one in read)
    return Finding(
        code="CC-21",
        subject="crosscheck",
        says=f"By the record this engine burns lean, and the exhaust is not that of a lean engine ({words})",
        severity="clash",
        next_step="Look for a spent oxygen cell, a sample that was taken of another engine or behind another catalyst, "
        "gas that passes a cylinder unburned; then whether the engine was rebuilt to run at lambda 1. Do not trim the "
        "mixture by this reading.",
        because=tuple(one.key for one in read),
        cautions=AT_THE_ENGINE,
        state=state,
    )


def _read(there: Mapping[tuple[str, str], Reading]) -> list[Reading]:
    return [one for (name, _), one in there.items() if name in TOLD]
