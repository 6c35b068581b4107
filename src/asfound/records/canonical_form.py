"""The canonical form of JSON (RFC 8785), many times faster for what entries hold: plain texts and middling numbers.

What the fast way takes, the library for this form writes byte for byte alike; all else (very large and very small
numbers, signs beyond the basic plane in names) is left to the library, which also refuses what has no canonical form.
"""

from __future__ import annotations

import json
from typing import Any

EXACT = 2**53
"""Whole numbers below it are the same as floating point."""
SMALL, LARGE = 1e-4, 1e15
"""Between them Python writes a number as the standard asks (3.2.2.3, ECMAScript): its shortest digits, no exponent."""
_encoder = json.JSONEncoder(ensure_ascii=False, sort_keys=True, separators=(",", ":"), check_circular=False)


class _LeftToLibraryError(Exception):
    """The fast way does not take this value."""


def canonical(value: Any) -> bytes:
    """Return the canonical form of a value.

    Examples
    --------
    >>> canonical({"b": 1.0, "a": "é"}).decode()
    '{"a":"é","b":1}'
    """
    try:
        return _encoder.encode(_plain(value)).encode()
    except (_LeftToLibraryError, UnicodeEncodeError, RecursionError):
        import rfc8785

        return rfc8785.dumps(value)


def _plain(value: Any) -> Any:
    """Return a value with whole floating numbers as whole numbers; raise where the library must write it."""
    kind = type(value)
    if kind is str or value is None or kind is bool:
        return value
    if kind is dict:
        made = {}
        for name, one in value.items():
            if type(name) is not str or not name.isascii():  # the order of names is by UTF-16
                raise _LeftToLibraryError
            made[name] = one if type(one) is str else _plain(one)
        return made
    if kind is float:
        if value.is_integer() and -LARGE < value < LARGE:
            return int(value)
        if SMALL <= value < LARGE or -LARGE < value <= -SMALL:
            return value
    elif kind is int:
        if -EXACT < value < EXACT:
            return value
    elif kind is list or kind is tuple:
        return [_plain(one) for one in value]
    raise _LeftToLibraryError
