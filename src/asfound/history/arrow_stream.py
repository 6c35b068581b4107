"""Columns out of DuckDB as NumPy arrays without a copy through Python: the Arrow C data interface, read with ctypes.

The interface is a published, stable layout of two C structs (Arrow specification, "C data interface" and "C stream
interface"); DuckDB gives it without PyArrow. Only plain 8-byte columns are read (whole numbers, times, floats), which
the queries here ask for. Batches come as DuckDB makes them, so memory stays at a few batches whatever the file's size.
"""

from __future__ import annotations

import contextlib
import ctypes
from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from asfound.errors import AsFoundError

BATCH = 61_440
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
"""Names of the GNU C library's settings, <malloc.h>."""


class _Schema(ctypes.Structure):
    pass


class _Array(ctypes.Structure):
    pass


class _Stream(ctypes.Structure):
    pass


_Schema._fields_ = [
    ("format", ctypes.c_char_p),
    ("name", ctypes.c_char_p),
    ("metadata", ctypes.c_void_p),
    ("flags", ctypes.c_int64),
    ("n_children", ctypes.c_int64),
    ("children", ctypes.POINTER(ctypes.POINTER(_Schema))),
    ("dictionary", ctypes.c_void_p),
    ("release", ctypes.CFUNCTYPE(None, ctypes.POINTER(_Schema))),
    ("private_data", ctypes.c_void_p),
]
_Array._fields_ = [
    ("length", ctypes.c_int64),
    ("null_count", ctypes.c_int64),
    ("offset", ctypes.c_int64),
    ("n_buffers", ctypes.c_int64),
    ("n_children", ctypes.c_int64),
    ("buffers", ctypes.POINTER(ctypes.c_void_p)),
    ("children", ctypes.POINTER(ctypes.POINTER(_Array))),
    ("dictionary", ctypes.c_void_p),
    ("release", ctypes.CFUNCTYPE(None, ctypes.POINTER(_Array))),
    ("private_data", ctypes.c_void_p),
]
_Stream._fields_ = [
    ("get_schema", ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(_Stream), ctypes.POINTER(_Schema))),
    ("get_next", ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(_Stream), ctypes.POINTER(_Array))),
    ("get_last_error", ctypes.CFUNCTYPE(ctypes.c_char_p, ctypes.POINTER(_Stream))),
    ("release", ctypes.CFUNCTYPE(None, ctypes.POINTER(_Stream))),
    ("private_data", ctypes.c_void_p),
]
_FORMATS: dict[bytes, Any] = {b"l": np.int64, b"g": np.float64}


def _kind(form: bytes) -> Any:
    if form in _FORMATS:
        return _FORMATS[form]
    if form.startswith(b"tsu:"):
        return np.int64
    raise TypeError(f"a column of Arrow format {form!r} cannot be read here")


def batches(relation: Any) -> Iterator[list[NDArray[Any]]]:
    """Yield the columns of a relation batch by batch; the arrays hold only until the next batch is asked for.

    A missing value in a column of floats is nan.
    """
    _keep_memory()
    capsule = _capsule(relation)
    pointer = ctypes.pythonapi.PyCapsule_GetPointer
    pointer.restype, pointer.argtypes = ctypes.c_void_p, [ctypes.py_object, ctypes.c_char_p]
    stream = ctypes.cast(pointer(capsule, b"arrow_array_stream"), ctypes.POINTER(_Stream))
    kinds = _kinds(stream)
    while True:
        batch = _Array()
        if stream.contents.get_next(stream, ctypes.byref(batch)):
            raise AsFoundError(_error(stream))
        if not batch.release:
            return
        try:
            if batch.length:
                yield _columns(batch, kinds)
        finally:
            batch.release(ctypes.byref(batch))


def _capsule(relation: Any) -> Any:
    """Return the stream, in batches that stay in the processor's cache where DuckDB lets us say so (a fifth faster).

    Its public way to say it goes through PyArrow; where the inner one is not there, batches are as long as it likes.
    """
    try:
        return relation._submit("stream", BATCH).arrow_capsule()
    except (AttributeError, TypeError):
        return relation.__arrow_c_stream__()


@cache
def _keep_memory() -> None:
    """Let the C library keep the memory of a batch for the next one, where it is the GNU one.

    It gives freed memory back to the system at once, until it has seen large pieces freed; to get each batch's memory
    anew costs a fifth of the time. The bounds are those that it finds for itself in a program that has run for long.
    """
    with contextlib.suppress(OSError, AttributeError):
        library = ctypes.CDLL(None)
        if library.gnu_get_libc_version:
            library.mallopt(_TRIM_THRESHOLD, 64 << 20)
            library.mallopt(_MMAP_THRESHOLD, 32 << 20)


def _error(stream: Any) -> str:
    said = stream.contents.get_last_error(stream)
    return said.decode("utf-8", "replace") if said else "reading stopped without a reason"


def _kinds(stream: Any) -> list[Any]:
    schema = _Schema()
    if stream.contents.get_schema(stream, ctypes.byref(schema)):
        raise AsFoundError(_error(stream))
    try:
        return [_kind(schema.children[number].contents.format) for number in range(schema.n_children)]
    finally:
        schema.release(ctypes.byref(schema))


def _columns(batch: Any, kinds: Sequence[Any]) -> list[NDArray[Any]]:
    found: list[NDArray[Any]] = []
    for number, kind in enumerate(kinds):
        column = batch.children[number].contents
        offset = column.offset + batch.offset
        raw = (ctypes.c_char * (8 * batch.length)).from_address(column.buffers[1] + 8 * offset)
        values = np.frombuffer(raw, kind)
        if kind is np.float64 and column.null_count and column.buffers[0]:
            _make_nan(values, column.buffers[0], offset)
        found.append(values)
    return found


def _make_nan(values: NDArray[Any], bitmap: int, offset: int) -> None:
    """Write nan where the bitmap (one bit a row, 0 is missing) says so; the memory is this batch's own."""
    raw: Any = (ctypes.c_char * ((offset + len(values) + 7) // 8)).from_address(bitmap)
    bits = np.frombuffer(raw, np.uint8)
    there = np.unpackbits(bits, count=offset + len(values), bitorder="little")[offset:]
    np.copyto(values, np.nan, where=there == 0)
