"""Methane number of fuel gases by EN 16726 annex A.

How hard a gas knocks, on a scale where methane is 100 and hydrogen 0. Nitrogen has no effect in this method; carbon
dioxide raises the number. The standard leaves the split of step (c) open; `methane_number_split` says by which rule it
is closed here. With that rule the validation gases of Table A.10 come out within 0.15 (natural gases) or 1.5 (gases
rich in hydrogen, carbon monoxide, olefins). So: no more than +-1 is claimed, and within 2 of a limit is undecided.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np

from asfound.fuel.arranged import Flags, arranged
from asfound.fuel.methane_number_split import equal_split
from asfound.fuel.methane_number_tables import GASES, diagrams, inert_number
from asfound.quantities.typing import Array, Values

COMPONENTS = (
    "methane", "ethane", "propane", "isobutane", "n_butane", "isopentane", "n_pentane", "neopentane", "hexanes_plus",
    "ethylene", "propylene", "butylene", "butadiene", "hydrogen", "carbon_monoxide", "hydrogen_sulfide",
    "carbon_dioxide", "nitrogen", "oxygen", "water", "helium", "argon",
)  # fmt: skip
"""The components that the method knows, in the order of the last axis of every composition here."""

PRESENT = 0.05  # % of the simplified gas above which a component needs diagrams
PENTANES_AS_BUTANE, HEXANES_AS_BUTANE = 2.3, 5.3
INERT_ZERO = 100.0003  # what diagram A20 gives for gas without carbon dioxide
LEAST_COMBUSTIBLE = 35.0  # %, the lower end of x in diagram A20
MOST_PENTANES, MOST_HEXANES, MOST_BOTH = 0.03, 0.03, 0.05  # dry, oxygen-free; ASTM D8221
UNDECIDED = 2.0  # a number nearer than this to a limit decides nothing
APART = 1.0  # diagrams that stay further apart than this have no common number

_AS_BUTANE = {
    "isobutane": 1.0, "n_butane": 1.0, "butylene": 1.0, "butadiene": 1.0, "isopentane": PENTANES_AS_BUTANE,
    "n_pentane": PENTANES_AS_BUTANE, "neopentane": PENTANES_AS_BUTANE, "hexanes_plus": HEXANES_AS_BUTANE,
}  # fmt: skip
_BY_DEFINITION: dict[tuple[str, ...], float] = {("methane",): 100.0, ("hydrogen",): 0.0}
"""The two ends of the scale; the diagrams' corners fit methane with 96.7 to 99.9, hydrogen with 0 to 3."""
_INERT = ("carbon_dioxide", "nitrogen", "oxygen", "water", "helium", "argon")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MethaneNumbers:
    """What the method says of gases; arrays of one shape."""

    number: Array
    """Nan where the method has no answer."""
    apart: Array
    """Largest difference between two diagrams that no split removes; 0 as a rule."""
    diagrams: Flags
    """Which diagrams were taken, in the order of `diagram_names`. [..., 16], bool"""
    within_limits: Flags
    """Whether the gas is within the limits of use; outside them the number stands, but is not the standard's. bool"""


def diagram_names() -> tuple[str, ...]:
    """Return the names of the diagrams, A1 to A16."""
    return tuple(one.name for one in diagrams())


def methane_number(fractions: Array) -> Array:
    """Return the methane number of gases; see `methane_numbers`.

    Examples
    --------
    Mixture 3 of EN 16726 Table A.10 prints 80.0.

    >>> gas = composition(dict(methane=.9468, ethane=.032, propane=.0105, n_butane=.0047, n_pentane=.002,
    ...                        carbon_dioxide=.002, nitrogen=.002))
    >>> print(f"{float(methane_number(gas)):.1f}")
    80.1
    """
    return methane_numbers(fractions).number


def methane_numbers(fractions: Array) -> MethaneNumbers:
    """Return the methane number of gases by EN 16726 annex A, with what is to be known of it.

    Parameters
    ----------
    fractions : array [..., 22]
        Mole (or volume) fractions in the order of `COMPONENTS`; need not add up to one: each gas is divided by its own
        sum. Isomers of butane count alike, and so do pentanes; all from hexane on is ``hexanes_plus``. [mol/mol]

    Returns
    -------
    MethaneNumbers
        Number nan for a gas with nothing to burn, with a negative or missing fraction, with more carbon dioxide than
        diagram A20 has (combustible below 35 % of the two), or where the diagrams stay more than 1 apart.

    References
    ----------
    .. [1] EN 16726:2015 annex A, as held in a public transcription; limits of use: abstract of ASTM D8221-23.
    """
    x = np.asarray(fractions, dtype=float)
    if x.shape[-1] != len(COMPONENTS):
        raise ValueError(f"the last axis of the fractions has {x.shape[-1]} components, not {len(COMPONENTS)}")
    shape, flat = x.shape[:-1], x.reshape(-1, len(COMPONENTS))
    with np.errstate(all="ignore"):
        flat = np.where((np.isfinite(flat) & (flat >= 0)).all(axis=1, keepdims=True), flat, np.nan)
        simple = flat @ _simplify()
        gas = 100 * simple / simple.sum(axis=1, keepdims=True)
        dioxide = flat[:, _at("carbon_dioxide")]
        burns = flat.sum(axis=1) - flat[:, [_at(name) for name in _INERT]].sum(axis=1)
        share = 100 * burns / (burns + dioxide)
        combustible, apart, taken = _combustible(gas)
        answer = combustible + inert_number(share, 100 - share) - INERT_ZERO
        answer = np.where((share >= LEAST_COMBUSTIBLE) & (apart <= APART), answer, np.nan)
    return MethaneNumbers(
        number=answer.reshape(shape),
        apart=apart.reshape(shape),
        diagrams=taken.reshape(*shape, -1),
        within_limits=_within(flat).reshape(shape),
    )


def composition(parts: Mapping[str, Values]) -> Array:
    """Return fractions in the order of `COMPONENTS` from fractions by name; what is not named is zero.

    Raises
    ------
    UnknownNameError
        A component that the method does not know.
    """
    return arranged(parts, COMPONENTS, "the methane number")


def against_limit(
    number: float, least: float, *, standard_uncertainty: float = 0.0
) -> Literal["meets", "undecided", "violates", "no answer"]:
    """Return how a methane number stands to the least that is allowed.

    Within 2 of the limit, or within 2 standard uncertainties if that is more, it is undecided.

    >>> against_limit(71.5, 70.0), against_limit(73.0, 70.0)
    ('undecided', 'meets')
    """
    if not np.isfinite(number):
        return "no answer"
    if abs(number - least) <= max(UNDECIDED, 2 * standard_uncertainty):
        return "undecided"
    return "meets" if number > least else "violates"


def _at(name: str) -> int:
    return COMPONENTS.index(name)


@cache
def _simplify() -> Array:
    """Return the matrix from components to the gases of the diagrams: step (a)."""
    answer = np.zeros((len(COMPONENTS), len(GASES)))
    for row, name in enumerate(COMPONENTS):
        if name in _AS_BUTANE:
            answer[row, GASES.index("butane")] = _AS_BUTANE[name]
        elif name not in _INERT:
            answer[row, GASES.index(name)] = 1.0
    return answer


def _within(flat: Array) -> Flags:
    """Return whether pentanes and heavier are within the limits of use, of the dry gas without oxygen."""
    with np.errstate(all="ignore"):
        whole = flat.sum(axis=1) - flat[:, _at("water")] - flat[:, _at("oxygen")]
        pentanes = flat[:, [_at(name) for name in ("isopentane", "n_pentane", "neopentane")]].sum(axis=1) / whole
        heavier = flat[:, _at("hexanes_plus")] / whole
        answer: Flags = (pentanes <= MOST_PENTANES) & (heavier <= MOST_HEXANES) & (pentanes + heavier <= MOST_BOTH)
    return answer


def _combustible(gas: Array) -> tuple[Array, Array, Flags]:
    """Return the methane number without inerts, how far the diagrams stay apart, and which were taken."""
    number, apart = np.full(len(gas), np.nan), np.full(len(gas), np.nan)
    taken = np.zeros((len(gas), len(diagrams())), dtype=bool)
    good = np.flatnonzero(np.isfinite(gas).all(axis=1))
    if not good.size:
        return number, apart, taken
    present = gas[good] > PRESENT
    taken[good] = choose(gas[good], present)
    code = np.concatenate([taken[good], present], axis=1) @ (1 << np.arange(taken.shape[1] + len(GASES)))
    for one in np.unique(code):
        rows = good[code == one]
        alone = _BY_DEFINITION.get(tuple(GASES[at] for at in np.flatnonzero(gas[rows[0]] > PRESENT)))
        if alone is not None:
            number[rows], apart[rows], taken[rows] = alone, 0.0, False
            continue
        chosen, there = np.flatnonzero(taken[rows[0]]), np.flatnonzero(gas[rows[0]] > PRESENT)
        amounts = gas[rows][:, there]
        amounts = 100 * amounts / amounts.sum(axis=1, keepdims=True)
        number[rows], apart[rows] = equal_split(tuple(chosen.tolist()), tuple(there.tolist()), amounts)
    return number, apart, taken


def choose(gas: Array, present: Flags) -> Flags:
    """Return which diagrams are taken for each gas: step (b).

    Each gas that is present wants two diagrams. In rounds, for each in the order of `GASES` that still wants one and
    has got none in this round: of the diagrams that hold it, with as many members present as can be had, the one with
    the highest affinity, the sum of volume per cent times start weight.
    """
    parts = diagrams()
    holds = np.zeros((len(parts), len(GASES)), dtype=bool)
    weight = np.zeros((len(parts), len(GASES)))
    for row, part in enumerate(parts):
        holds[row, list(part.members)] = True
        weight[row, list(part.members)] = part.weights
    affinity = gas @ weight.T
    missing = holds.sum(axis=1) - present.astype(int) @ holds.T.astype(int)
    taken = np.zeros((len(gas), len(parts)), dtype=bool)
    for _ in range(5):
        this_round = np.zeros_like(taken)
        for member in range(len(GASES)):
            wants = present[:, member] & ((taken & holds[:, member]).sum(axis=1) < 2)
            wants &= ~(this_round & holds[:, member]).any(axis=1)
            rows = np.flatnonzero(wants)
            if not rows.size:
                continue
            open_ = holds[:, member] & ~taken[rows]
            fewest = np.where(open_, missing[rows], 99).min(axis=1, keepdims=True)
            rank = np.where(open_ & (missing[rows] == fewest), affinity[rows], -1.0)
            best = rank.argmax(axis=1)
            found = rank[np.arange(rows.size), best] > 0
            taken[rows[found], best[found]] = this_round[rows[found], best[found]] = True
    return taken
