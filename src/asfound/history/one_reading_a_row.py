"""A log that lists one reading in a row, with a column that says which: not a table of columns, and told so.

Read as it stands, all readings of one moment would contradict each other under one head.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from asfound.errors import InputError
from asfound.history.channels import TextChannel, Times
from asfound.history.sniff_fields import time_kind
from asfound.history.times_in import NO_TIME

_WHICH = re.compile(
    r"(tag|name|signal|point|channel|kanal|variable|sensor|parameter|bezeichnung|messstelle|punto|señal|item)", re.I
)
_VALUE = re.compile(r"^(value|val|wert|messwert|valor|reading|measurement|ablesung|lectura)\b", re.I)
MOST_NAMES = 2000


def refuse_one_reading_a_row(name: str, numbers: Sequence[str], time: Times, texts: dict[str, TextChannel]) -> None:
    """Refuse a table with one column of numbers and one of words that says at each moment which reading it is.

    Parameters
    ----------
    name : str
        Of the file.
    numbers : sequence of str
        Heads of the columns of numbers.
    time : array of int64, shape (n,)
    texts : mapping of head to TextChannel, each (n,)

    Raises
    ------
    InputError
        It is such a table.
    """
    if len(numbers) != 1 or len(time) < 4:
        return
    for head, text in texts.items():
        known = (text.codes >= 0) & (time != NO_TIME)
        said = np.unique(text.codes[known])
        if not known.any() or not 2 <= len(said) <= MOST_NAMES or time_kind(text.words[said[0]]):
            continue
        moments = len(np.unique(time[known]))
        pairs = len(np.unique(np.stack([time[known], text.codes[known].astype(np.int64)]), axis=1)[0])
        listed = known.sum() >= 1.5 * moments and pairs >= 0.9 * known.sum()
        if listed or (_WHICH.search(head) and _VALUE.match(numbers[0])):
            names = ", ".join(text.words[code] for code in said[:3])
            raise InputError(
                "file", name, f"lists one reading in a row: '{head}' says which ({names} ...)",
                try_next="Export it with a column for each reading, or spread it in a spreadsheet (pivot table).",
            )  # fmt: skip
