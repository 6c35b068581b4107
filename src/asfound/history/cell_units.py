"""Units within cells, as some panels write them: '12.3 bar' in each row. The unit then belongs to the column.

One unit for a column: a cell with another stays what it is, and is refused as text in a column of numbers.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from asfound.history.sniff_fields import is_number, is_unit, with_unit
from asfound.history.split_lines import Bytes, Places, trimmed

_USUAL = 0.6
"""Share of a column's cells that must bear one unit, missing values apart."""


def unit_of(fields: Sequence[str], written: str) -> str:
    """Return the unit in the cells of a column, as written there; nothing where ``written`` over it differs.

    >>> unit_of(["4.1 bar", "4.2 bar", "---"], ""), unit_of(["4.1 bar", "4.2 bar"], "psi")
    ('bar', '')
    """
    said = [field for field in fields if field and any(map(str.isdigit, field))]
    if not said or (is_number(said[0]) and is_number(said[-1])):
        return ""
    units = Counter(found[1] for field in said if (found := with_unit(field)))
    if not units:
        return ""
    unit, count = units.most_common(1)[0]
    same = not written or written.strip(" []()") == unit
    return unit if same and count >= _USUAL * len(said) and is_unit(unit) else ""


def without_unit(field: str, unit: str) -> str:
    """Return a cell without its unit."""
    return field[: -len(unit)].rstrip() if unit and field.endswith(unit) else field


def numbers_alone(data: Bytes, starts: Places, ends: Places, unit: bytes) -> tuple[Places, Places]:
    """Return cells of a column (rows,) without their unit, where they end with it."""
    starts, ends = trimmed(data, starts, ends)
    fits = ends - starts > len(unit)
    for place, byte in enumerate(reversed(unit)):
        fits &= data[np.maximum(ends - 1 - place, 0)] == byte
    return trimmed(data, starts, np.where(fits, ends - len(unit), ends))
