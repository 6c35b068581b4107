"""Rounding for print: uncertainty to two digits, the value to the same place, in decimal arithmetic, in one step.

Numbers are taken as the decimal text that stands for them (a float as its shortest text), because 2.15 as a binary
number lies below 2.15 and would round the wrong way. Nothing is rounded before it is compared with a limit.
"""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, ROUND_HALF_UP, ROUND_UP, Context, Decimal
from typing import TypeAlias

Written: TypeAlias = Decimal | str | float | int
_CONTEXT = Context(prec=60)


def decimal(number: Written) -> Decimal:
    """Return the decimal number that a text or a float stands for (the shortest text of a float).

    >>> decimal(2.15)
    Decimal('2.15')
    """
    return number if isinstance(number, Decimal) else Decimal(str(number))


def half_even(number: Written, step: Written) -> Decimal:
    """Return the nearest multiple of ``step``; of two equally near ones the even (rule A of ISO 80000-1 annex B)."""
    return _to_step(number, step, ROUND_HALF_EVEN)


def half_up(number: Written, step: Written) -> Decimal:
    """Return the nearest multiple of ``step``; of two equally near ones the larger in magnitude (rule B)."""
    return _to_step(number, step, ROUND_HALF_UP)


def outward(low: Written, high: Written, step: Written) -> tuple[Decimal, Decimal]:
    """Return an interval with ends at multiples of ``step``, lower end down, upper end up: its coverage is kept.

    >>> [str(end) for end in outward("3.1416", "4.8651", "0.01")]
    ['3.14', '4.87']
    """
    return _to_step(low, step, ROUND_FLOOR), _to_step(high, step, ROUND_CEILING)


def two_digits(uncertainty: Written, *, digits: int = 2, up: bool = False) -> tuple[int, int]:
    """Return an uncertainty as ``c`` and ``l`` in ``c * 10**l``, with so many digits.

    Parameters
    ----------
    uncertainty : number
        Not negative, finite.
    digits : int
        Significant figures; JCGM 100:2008 7.2.6 says that two suffice at most.
    up : bool
        Round up rather than to the nearest, as 7.2.6 allows (10.47 becomes 11).

    Examples
    --------
    >>> two_digits("0.0996"), two_digits("10.47", up=True)
    ((10, -2), (11, 0))
    """
    exact = decimal(uncertainty)
    if not exact.is_finite() or exact < 0:
        raise ValueError(f"an uncertainty of {uncertainty} cannot be rounded")
    if not exact:
        return 0, 0
    place = exact.adjusted() - digits + 1
    figures = exact.scaleb(-place, _CONTEXT).quantize(Decimal(1), ROUND_UP if up else ROUND_HALF_UP, _CONTEXT)
    if len(str(figures)) > digits:  # 0.0996 carries a digit in front: 0.10
        figures, place = figures / 10, place + 1
    return int(figures), place


def rounded_uncertainty(uncertainty: Written, *, digits: int = 2, up: bool = False) -> Decimal:
    """Return an uncertainty rounded to so many digits (JCGM 100:2008 7.2.6)."""
    figures, place = two_digits(uncertainty, digits=digits, up=up)
    return Decimal(figures).scaleb(place)


def to_uncertainty(number: Written, uncertainty: Written, *, digits: int = 2) -> str:
    """Return a value rounded to the last place of its rounded uncertainty, as text (JCGM 100:2008 7.2.6).

    >>> to_uncertainty("10.05762", "0.027")
    '10.058'
    """
    _, place = two_digits(uncertainty, digits=digits)
    return f"{half_even(number, Decimal(1).scaleb(place)):f}" if decimal(uncertainty) else f"{decimal(number):f}"


def concise(number: Written, uncertainty: Written, *, digits: int = 2) -> str:
    """Return value and standard uncertainty in the short form ``100.021 47(35)`` (JCGM 100:2008 7.2.2), without spaces.

    >>> concise("100.02147", "0.00035"), concise("12345", "240")
    ('100.02147(35)', '12340(240)')
    """
    figures, place = two_digits(uncertainty, digits=digits)
    return f"{to_uncertainty(number, uncertainty, digits=digits)}({figures * 10 ** max(place, 0)})"


def correlation(coefficient: Written) -> Decimal:
    """Return a correlation coefficient with three digits, as JCGM 100:2008 7.2.6 asks when it is near one."""
    return half_even(coefficient, "0.001")


def significant(number: Written, digits: int) -> Decimal:
    """Return a number with so many significant figures, ties to even; figures before the decimal sign all stay."""
    exact = decimal(number)
    place = min(exact.adjusted() - digits + 1, 0) if exact else 1 - digits
    rounded = half_even(exact, Decimal(1).scaleb(place))
    if rounded and rounded.adjusted() > exact.adjusted() and place < 0:  # 9.996 carries: 10.0, not 10.00
        rounded = half_even(exact, Decimal(1).scaleb(place + 1))
    return rounded


def _to_step(number: Written, step: Written, how: str) -> Decimal:
    size = decimal(step)
    if size <= 0:
        raise ValueError(f"a step of {step} is not above zero")
    times = _CONTEXT.divide(decimal(number), size).quantize(Decimal(1), how, _CONTEXT)
    found = _CONTEXT.multiply(times, size)
    return found if found else abs(found)
