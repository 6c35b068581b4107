"""Global risks: how often a rule accepts what does not conform, and rejects what does (JCGM 106:2012 9.5)."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

from asfound.errors import InputError


@dataclass(frozen=True, slots=True)
class Risk:
    """Probabilities for an item taken at random from the process and measured once."""

    consumer: float
    """Accepted, and does not conform."""
    producer: float
    """Rejected, and conforms."""


def global_risk(
    process_mean: float,
    process_sd: float,
    u: float,
    *,
    lower: float | None = None,
    upper: float | None = None,
    accept_lower: float | None = None,
    accept_upper: float | None = None,
) -> Risk:
    """Return the global risks for a normal process measured with a normal error.

    Parameters
    ----------
    process_mean, process_sd : float
        Of the items' true values.
    u : float
        Standard uncertainty of the measurement.
    lower, upper : float, optional
        Limits an item must keep; at least one.
    accept_lower, accept_upper : float, optional
        Limits its measured value must keep; the same as the first where left out (simple acceptance).

    References
    ----------
    .. [1] JCGM 106:2012 9.5.2, Equations (17), (18).
    """
    if not (process_sd > 0.0 and math.isfinite(process_sd)):
        raise InputError("process_sd", f"{process_sd:g}", "is no spread of a process", allowed="more than 0")

    def density(x: float) -> float:
        z = (x - process_mean) / process_sd
        return math.exp(-0.5 * z * z) / (process_sd * math.sqrt(2.0 * math.pi))

    reach = 12.0 * process_sd
    return global_risk_of(
        density, process_mean - reach, process_mean + reach, u,
        lower=lower, upper=upper, accept_lower=accept_lower, accept_upper=accept_upper,
    )  # fmt: skip


def global_risk_of(
    density: Callable[[float], float],
    least: float,
    most: float,
    u: float,
    *,
    lower: float | None = None,
    upper: float | None = None,
    accept_lower: float | None = None,
    accept_upper: float | None = None,
) -> Risk:
    """Return the global risks for any process, given by its probability density between ``least`` and ``most``.

    Solved by adaptive quadrature, piece by piece between the limits; a piece near a limit is cut where the measurement
    blurs it (within 8 u), so that no narrow part is missed.
    """
    if not (u > 0.0 and math.isfinite(u)):
        raise InputError("u", f"{u:g}", "is no standard uncertainty of a measurement", allowed="more than 0")
    if lower is None and upper is None:
        raise InputError("upper", "", "and lower are both left out", allowed="at least one limit")
    low = least if lower is None else lower
    high = most if upper is None else upper
    take_low = accept_lower if accept_lower is not None else lower
    take_high = accept_upper if accept_upper is not None else upper

    def accepted(x: float) -> float:
        above = 1.0 if take_low is None else _below((x - take_low) / u)
        beyond = 0.0 if take_high is None else _below((x - take_high) / u)
        return max(above - beyond, 0.0)

    def rejected(x: float) -> float:
        under = 0.0 if take_low is None else _below((take_low - x) / u)
        over = 0.0 if take_high is None else _below((x - take_high) / u)
        return under + over

    cuts = [edge + side * 8.0 * u for edge in (take_low, take_high) if edge is not None for side in (-1.0, 0.0, 1.0)]
    consumer = _integral(lambda x: density(x) * accepted(x), least, low, cuts)
    consumer += _integral(lambda x: density(x) * accepted(x), high, most, cuts)
    producer = _integral(lambda x: density(x) * rejected(x), low, high, cuts)
    return Risk(consumer, producer)


def _integral(f: Callable[[float], float], start: float, end: float, cuts: list[float]) -> float:
    """Return the integral from start to end, cut into pieces; 0 where the end is not after the start."""
    if end <= start:
        return 0.0
    from scipy.integrate import quad

    edges = [start, *sorted(cut for cut in cuts if start < cut < end), end]
    pieces = itertools.pairwise(edges)
    return math.fsum(quad(f, a, b, epsabs=1e-13, epsrel=1e-10, limit=400)[0] for a, b in pieces)


def _below(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))
