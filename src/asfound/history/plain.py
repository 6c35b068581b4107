"""Frozen records as plain data and back: for what is kept on disk as JSON."""

from __future__ import annotations

import types
import typing
from dataclasses import fields, is_dataclass
from functools import lru_cache
from typing import Any, TypeVar

T = TypeVar("T")


def to_plain(value: Any) -> Any:
    """Return a record as mappings, lists, numbers and texts."""
    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: to_plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, (tuple, list)):
        return [to_plain(one) for one in value]
    if isinstance(value, dict):
        return {str(name): to_plain(one) for name, one in value.items()}
    return value


def from_plain(kind: type[T], data: Any) -> T:
    """Return the record of plain data.

    Raises
    ------
    KeyError, TypeError, ValueError
        The data are of another form.
    """
    found: T = _made(kind, data)
    return found


@lru_cache(maxsize=128)
def _hints(kind: type) -> dict[str, Any]:
    return typing.get_type_hints(kind)


def _made(kind: Any, data: Any) -> Any:
    origin = typing.get_origin(kind)
    if origin in (typing.Union, types.UnionType):
        if data is None:
            return None
        return _made(next(one for one in typing.get_args(kind) if one is not type(None)), data)
    if origin is tuple:
        given = typing.get_args(kind)
        if len(given) == 2 and given[1] is Ellipsis:
            return tuple(data) if given[0] in (int, float, str) else tuple(_made(given[0], one) for one in data)
        return tuple(_made(one, part) for one, part in zip(given, data, strict=True))
    if origin is dict:
        return dict(data)
    if is_dataclass(kind):
        hints = _hints(typing.cast("type", kind))
        return kind(**{name: _made(hints[name], one) for name, one in data.items()})  # type: ignore[operator]
    return data
