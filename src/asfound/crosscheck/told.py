"""The cross-check in sentences: who reads wrong by how much, or which could, and what would decide it."""

from __future__ import annotations

import math
from typing import Literal

from asfound.crosscheck.outcome import Alternative, CrossCheck, Suspect
from asfound.crosscheck.silent import parts_said, tally
from asfound.crosscheck.worth_of_visit import OneMore

System = Literal["si", "us"]
SHOWN = 3
"""Suspects of one error that a sentence names."""
LEAST = 0.03
"""Below this share a suspect is not worth a place in the sentence. [1]"""
PSI = 6894.757293168361


def sentence(found: CrossCheck, system: System = "si") -> str:
    """Return what a person should know first."""
    if found.verdict == "nobody":
        return _nobody(found)
    if not found.explanations or found.verdict == "unexplained":
        return _unexplained(found, system)
    said = explanation(found.explanations[0], system)
    others = [explanation(one, system) for one in found.explanations[1:3] if one.probability > 0.1]
    said = ". Or: ".join([said, *others])
    decide = _decide(found)
    return f"{said[0].upper()}{said[1:]}{decide}."


def explanation(one: Alternative, system: System = "si") -> str:
    """Return one explanation in words, all its errors."""
    return ", and ".join(_group(group, system) for group in one.groups)


def _group(group: tuple[Suspect, ...], system: System) -> str:
    possible = [one for one in group if one.possible and one.probability >= LEAST] or list(group[:1])
    return ", or ".join(suspect(one, system) for one in possible[:SHOWN])


def suspect(one: Suspect, system: System = "si") -> str:
    """Return one suspect in words: ``fuel flow reads 4 to 7 % high``."""
    if not (math.isfinite(one.size) and math.isfinite(one.u)):
        return f"{_lower(one.title)} is far off"
    why = "; ".join(said for said in (one.mistake, f"its log: it {one.log}" if one.log else "") if said)
    mistake = f" ({why})" if why and one.kind != "pattern" else ""
    if one.kind == "pattern":
        return f"{one.mistake}{_pattern_size(one, system)}"
    if one.name == "heating_value_factor":
        return f"the heating value is {_percent(one)} {_than(one)} than the analysis says{mistake}"
    if one.name == "gas_richness":
        way = "poorer" if one.size > 0 else "richer"
        return f"the gas burned is {_percent(one)} {way} in carbon and hydrogen than the one analysed{mistake}"
    if one.kind == "assumption" and one.name.startswith("model_"):
        low, high = sorted(one.value - end for end in one.interval)
        off = f"{_number(low, one.unit, system)} to {_number(high, one.unit, system)}"
        return f"{_lower(one.title)} is {off}: this engine is not as usual, and no instrument lies{mistake}"
    if one.kind == "assumption":
        low, high = sorted((one.value - end) for end in one.interval)
        now = f"{_number(low, one.unit, system)} to {_number(high, one.unit, system)}"
        usual = _number(one.value, one.unit, system)
        return (
            f"{_lower(one.title)} is {now} and not about {usual}: the engine, not an instrument, has changed{mistake}"
        )
    return f"{_lower(one.title)} reads {amount(one, system)} {'high' if one.size > 0 else 'low'}{mistake}"


def amount(one: Suspect, system: System = "si") -> str:
    """Return the size of an error with its interval, as the trade says it: in per cent, in kelvin, in ppm."""
    if one.unit == "K":
        factor, unit = (1.8, "°F") if system == "us" else (1.0, "K")
        return _between(one, factor, unit)
    if one.unit == "mol/mol":
        fine = abs(one.value) < 5e-3
        return _between(one, 1e6 if fine else 100.0, "ppm" if fine else "vol-%")
    if one.unit == "Pa":
        return _between(one, 1 / PSI, "psi") if system == "us" else _between(one, 1e-3, "kPa")
    if one.unit == "1":
        return _between(
            one,
            100.0 if one.quantity == "relative_humidity" else 1.0,
            "%" if one.quantity == "relative_humidity" else "",
        )
    return _percent(one)


def _percent(one: Suspect) -> str:
    """Return an error as a share of what is true."""
    true = one.value - one.size
    if true <= 0:
        return "far too"
    ends = sorted(abs(100 * end / (one.value - end)) if one.value - end > 0 else math.inf for end in one.interval)
    return f"{_figures(ends[0], ends[1])} %"


def _between(one: Suspect, factor: float, unit: str) -> str:
    low, high = sorted(abs(end) * factor for end in one.interval)
    if one.interval[0] * one.interval[1] < 0:
        low = 0.0
    return f"{_figures(low, high)} {unit}".strip()


def _figures(low: float, high: float) -> str:
    """Return two ends with as many decimals as their distance is worth."""
    if not math.isfinite(high):
        return f"more than {low:.0f}" if math.isfinite(low) else "very much"
    decimals = max(0, 1 - math.floor(math.log10(max(high - low, 1e-9))))
    decimals = min(decimals, 4)
    return f"{low:.{decimals}f} to {high:.{decimals}f}"


def _number(value: float, unit: str, system: System) -> str:
    if unit == "1":
        return f"{100 * value:.3g} %"
    if unit == "ratio":
        return f"{value:.2g}"
    if unit == "K":
        return f"{value * 1.8:.0f} °F" if system == "us" else f"{value:.0f} K"
    if unit == "W":
        return f"{value / 745.7:.0f} hp" if system == "us" else f"{value / 1e3:.0f} kW"
    if unit == "Pa":
        return f"{value / PSI:.2f} psi" if system == "us" else f"{value / 1e3:.2f} kPa"
    return f"{value:.3g} {unit}"


def _pattern_size(one: Suspect, system: System) -> str:
    if one.name.startswith("sample_leak"):
        return f": {_between(one, 100.0, '%')} of the sample is air"
    if one.unit == "K":
        high = "high" if one.size > 0 else "low"
        return f": they read {_between(one, 1.8 if system == 'us' else 1.0, '°F' if system == 'us' else 'K')} {high}"
    return ""


def _than(one: Suspect) -> str:
    return "lower" if one.size > 0 else "higher"


def _lower(title: str) -> str:
    """Return a title inside a sentence; what is written in capitals stays so."""
    return title if title[:2].isupper() else title[0].lower() + title[1:]


def _decide(found: CrossCheck) -> str:
    """Say what would tell the suspects apart; empty where they are told apart."""
    if found.told_apart:
        return ""
    look = next((one for one in found.suspects if one.look), None)
    if found.one_more:
        return f": {decision(found.one_more[0])} to decide"
    if len(found.suspects) > 1 and look is not None:
        return ". These balances cannot tell them apart"
    return ""


def decision(one: OneMore) -> str:
    """Return a measurement as something to do."""
    return f"measure {_lower(one.title)} with another instrument"


def _nobody(found: CrossCheck) -> str:
    count = tally(found)
    return (
        f"Nothing contradicts: disagreement {found.chi_squared:.0f}, usual below {found.usual_below:.0f}. "
        f"Of {count.read} readings {', '.join(parts_said(count))}."
    )


def _unexplained(found: CrossCheck, system: System) -> str:
    near = f" Nearest: {explanation(found.explanations[0], system)}." if found.explanations else ""
    size = f"disagreement {found.chi_squared:.0f}, usual below {found.usual_below:.0f}"
    return f"The readings contradict each other ({size}), and no one or two errors explain it.{near}"
