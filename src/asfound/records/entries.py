"""An entry of the record, and identifiers that sort by time (RFC 9562, version 7)."""

from __future__ import annotations

import hashlib
import re
import secrets
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from asfound.errors import InputError
from asfound.records.canonical_form import canonical as canonical

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

_RANDOM_BITS = 74  # rand_a (12) and rand_b (62) of RFC 9562 section 5.7, used as one counter
_ID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the record. It is never changed and never removed.

    A thing bears the identifier of the entry that began it: an engine that of its first ``engine`` entry, a visit that
    of its ``visit_opened`` entry, a site and an instrument likewise.
    """

    id: str
    """UUID version 7; sorts by the time of writing."""
    at: str
    """When it was written, by the clock of the home: ISO 8601 with offset."""
    who: str
    device: str
    """Identifier of the laptop or tablet's home that wrote it."""
    engine: str | None = None
    visit: str | None = None
    kind: str
    content: Mapping[str, Any] = field(default_factory=dict, hash=False)
    corrects: str | None = None
    """The entry that this one replaces (or, for ``withdrawn``, makes void)."""

    def as_dict(self) -> dict[str, Any]:
        """Return all fields as JSON-ready values; what is absent is null."""
        return {
            "id": self.id,
            "at": self.at,
            "who": self.who,
            "device": self.device,
            "engine": self.engine,
            "visit": self.visit,
            "kind": self.kind,
            "content": dict(self.content),
            "corrects": self.corrects,
        }

    def digest(self) -> str:
        """Return the SHA-256 of its canonical form (RFC 8785), in hexadecimal."""
        return sha256(canonical(self.as_dict()))


def sha256(data: bytes) -> str:
    """Return the SHA-256 of bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def is_id(text: str) -> bool:
    """Tell whether a text is an identifier of an entry (lower-case UUID version 7)."""
    return _ID.fullmatch(text) is not None


def make_id(milliseconds: int, after: str | None = None, *, randbits: Callable[[int], int] = secrets.randbits) -> str:
    """Return a UUID version 7 that is higher than ``after``.

    Within one millisecond, and when the clock has been set back, the random part counts on from ``after`` by a random
    step; when it is used up the millisecond is advanced (RFC 9562 section 6.2, method 2).

    Parameters
    ----------
    milliseconds : int
        Since 1970-01-01T00:00Z, 48 bits.
    after : str, optional
        The highest identifier so far.
    randbits : callable
        Source of randomness; ``secrets.randbits`` outside tests and the demo.

    Examples
    --------
    >>> one = make_id(1645557742000)
    >>> one[:15], make_id(0, one) > one
    ('017f22e2-79b0-7', True)
    """
    if not 0 <= milliseconds < 1 << 48:
        raise InputError(
            "clock",
            str(milliseconds),
            "is not a time that an identifier can hold",
            allowed="1970 to 10889",
            try_next="Set the clock of this computer.",
        )
    # The top bit starts at nought, so that there is room to count on within the millisecond.
    counter = randbits(_RANDOM_BITS - 1)
    if after is not None:
        last_time, last_counter = _take_apart(after)
        if milliseconds <= last_time:
            milliseconds, counter = last_time, last_counter + 1 + randbits(32)
            if counter >> _RANDOM_BITS:
                milliseconds, counter = last_time + 1, randbits(_RANDOM_BITS - 1)
    rand_a, rand_b = counter >> 62, counter & ((1 << 62) - 1)
    whole = f"{(milliseconds << 80) | (7 << 76) | (rand_a << 64) | (2 << 62) | rand_b:032x}"
    return f"{whole[:8]}-{whole[8:12]}-{whole[12:16]}-{whole[16:20]}-{whole[20:]}"


def time_of(identifier: str) -> datetime:
    """Return the time inside an identifier, UTC; the time of writing unless the clock had been set back."""
    return datetime.fromtimestamp(_take_apart(identifier)[0] / 1000, UTC)


def _take_apart(identifier: str) -> tuple[int, int]:
    """Return milliseconds and the 74-bit counter of an identifier."""
    if not is_id(identifier):
        raise InputError(
            "id",
            identifier,
            "is not an identifier of an entry",
            allowed="a UUID of version 7, in lower case",
            try_next="Take it from the record or from a page's address.",
        )
    whole = int(identifier.replace("-", ""), 16)
    return whole >> 80, ((whole >> 64) & 0xFFF) << 62 | whole & ((1 << 62) - 1)
