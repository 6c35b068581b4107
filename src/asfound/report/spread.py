"""Put things in a row near where they belong, none touching."""

from __future__ import annotations

from collections.abc import Sequence


def spread(wanted: Sequence[float], gaps: Sequence[float], low: float, high: float) -> list[float]:
    """Return positions in the given order, at least ``gaps`` apart, as near to the wanted ones as can be.

    Parameters
    ----------
    wanted : sequence of float
        Where each would like to stand, in the order in which they shall stand.
    gaps : sequence of float
        Least distance between neighbours; one fewer than ``wanted``.
    low, high : float
        Ends of the room. Where the gaps do not fit, they all shrink by one factor.

    Notes
    -----
    Least squares under the order constraint: isotonic regression by pooling adjacent violators, the gaps taken off.

    Examples
    --------
    >>> spread([10, 12, 90], [20, 20], 0, 100)
    [1.0, 21.0, 90.0]
    """
    if not wanted:
        return []
    total = sum(gaps)
    factor = 1.0 if total <= high - low else (high - low) / total
    offsets = [0.0]
    for gap in gaps:
        offsets.append(offsets[-1] + gap * factor)
    pools: list[tuple[float, int]] = []
    for want, offset in zip(wanted, offsets, strict=True):
        mean, count = want - offset, 1
        while pools and pools[-1][0] > mean:
            before, many = pools.pop()
            mean, count = (before * many + mean * count) / (many + count), many + count
        pools.append((mean, count))
    flat = [mean for mean, count in pools for _ in range(count)]
    top = high - offsets[-1]
    return [min(max(value, low), top) + offset for value, offset in zip(flat, offsets, strict=True)]
