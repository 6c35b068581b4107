"""The one form in which rows of a log are handed on: a time axis and channels, each a quantity at a place.

Time is whole microseconds since 1970-01-01 00:00 UTC. A value stands in the SI unit of its quantity; nan is missing.
A column that is no quantity of the register is kept all the same, as ``raw:<head>@<place>``, in the unit it was
written in, or as text.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from asfound.errors import InputError, UnknownNameError
from asfound.quantities.register import title_of
from asfound.quantities.typing import Array

Times: TypeAlias = NDArray[np.int64]
Codes: TypeAlias = NDArray[np.int32]
SECOND = 1_000_000
HERE = ("engine", "site", "generator", "fuel", "stack")
"""Places that a title need not name."""
RAW = "raw:"


def channel(quantity: str, place: str = "engine") -> str:
    """Return the name of a channel: ``oil_pressure@engine``."""
    return f"{quantity}@{place}"


def titled(channel: str) -> str:
    """Return a channel in words: ``Oil pressure``, ``Cylinder exhaust temperature, cylinder L4``."""
    what, place = split_channel(channel)
    name = what.removeprefix(RAW).replace("_", " ") if what.startswith(RAW) else _title(what)
    return name if place in HERE else f"{name}, {place.replace('_', ' ')}"


def _title(what: str) -> str:
    try:
        return title_of(what)
    except UnknownNameError:
        return what.replace("_", " ")


def split_channel(name: str) -> tuple[str, str]:
    """Return quantity and place of a channel's name.

    >>> split_channel("cylinder_exhaust_temperature@cylinder_3")
    ('cylinder_exhaust_temperature', 'cylinder_3')
    """
    quantity, mark, place = name.rpartition("@")
    return (quantity, place) if mark else (name, "engine")


@dataclass(frozen=True, slots=True)
class TextChannel:
    """Words along the time axis: ``codes`` count into ``words``, -1 where nothing was written."""

    codes: Codes
    words: tuple[str, ...]

    @classmethod
    def of(cls, texts: Sequence[str]) -> TextChannel:
        """Return the channel of a list of words; an empty word is none."""
        known: dict[str, int] = {}
        codes = np.array([known.setdefault(text, len(known)) if text else -1 for text in texts], np.int32)
        return cls(codes, tuple(known))

    def __len__(self) -> int:
        return len(self.codes)

    def text(self, row: int) -> str:
        """Return the word of a row, empty where there is none."""
        code = int(self.codes[row])
        return self.words[code] if code >= 0 else ""

    def array(self) -> list[str]:
        """Return the word of every row."""
        words = (*self.words, "")
        return [words[code] for code in self.codes]

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> TextChannel:
        """Return some of the rows."""
        return TextChannel(self.codes[rows], self.words)

    @classmethod
    def concat(cls, parts: Sequence[TextChannel]) -> TextChannel:
        """Return several behind each other, with one list of words."""
        known: dict[str, int] = {}
        codes = []
        for part in parts:
            table = np.array([*(known.setdefault(word, len(known)) for word in part.words), -1], np.int32)
            codes.append(table[part.codes])
        return cls(np.concatenate(codes) if codes else np.empty(0, np.int32), tuple(known))


@dataclass(frozen=True, slots=True, kw_only=True)
class Channels:
    """Rows of one source: ``time`` (n,), and by channel ``values`` (n,) in SI and ``texts`` (n,).

    The rows stand in the order of the file, unless ``sorted`` was asked for.
    """

    time: Times
    values: Mapping[str, Array] = field(default_factory=dict)
    texts: Mapping[str, TextChannel] = field(default_factory=dict)
    source: str = ""

    def __post_init__(self) -> None:
        lengths = {name: len(rows) for name, rows in self.values.items()}
        lengths |= {name: len(words) for name, words in self.texts.items()}
        for name, length in lengths.items():
            if length != len(self.time):
                raise InputError(name, str(length), "is not as long as the time axis", allowed=str(len(self.time)))

    @classmethod
    def of(
        cls, time: object, values: Mapping[str, object], texts: Mapping[str, Sequence[str]] | None = None,
        source: str = "",
    ) -> Channels:  # fmt: skip
        """Return channels of anything that arrays can be made of."""
        return cls(
            time=np.asarray(time, np.int64),
            values={name: np.asarray(rows, np.float64) for name, rows in values.items()},
            texts={name: TextChannel.of(rows) for name, rows in (texts or {}).items()},
            source=source,
        )

    def __len__(self) -> int:
        return len(self.time)

    @property
    def names(self) -> tuple[str, ...]:
        """All channels, the numeric ones first."""
        return (*self.values, *self.texts)

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Channels:
        """Return some of the rows: a mask, or their numbers in the order wanted."""
        return Channels(
            time=self.time[rows],
            values={name: column[rows] for name, column in self.values.items()},
            texts={name: column.take(rows) for name, column in self.texts.items()},
            source=self.source,
        )

    def sorted(self) -> Channels:
        """Return the rows by time; rows of one time keep their order."""
        if len(self.time) < 2 or bool(np.all(self.time[1:] >= self.time[:-1])):
            return self
        return self.take(np.argsort(self.time, kind="stable"))

    @staticmethod
    def concat(parts: Iterable[Channels]) -> Channels:
        """Return several behind each other; a channel that a part does not have is missing there."""
        blocks = list(parts)
        if len(blocks) == 1:
            return blocks[0]
        numeric = dict.fromkeys(name for block in blocks for name in block.values)
        worded = dict.fromkeys(name for block in blocks for name in block.texts)
        return Channels(
            time=np.concatenate([block.time for block in blocks]) if blocks else np.empty(0, np.int64),
            values={name: np.concatenate([_values(block, name) for block in blocks]) for name in numeric},
            texts={name: TextChannel.concat([_texts(block, name) for block in blocks]) for name in worded},
            source=blocks[0].source if blocks else "",
        )


def _values(block: Channels, name: str) -> Array:
    return block.values[name] if name in block.values else np.full(len(block), np.nan)


def _texts(block: Channels, name: str) -> TextChannel:
    return block.texts[name] if name in block.texts else TextChannel(np.full(len(block), -1, np.int32), ())
