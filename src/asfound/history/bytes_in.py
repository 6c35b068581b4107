"""The bytes of a log: what they are encoded in, and whole lines of them a few megabytes at a time.

Memory stays bounded whatever the file holds: a line that goes on for longer than `LONGEST_LINE` is cut out and said.
"""

from __future__ import annotations

import codecs
import gzip
import hashlib
import io
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from asfound.errors import InputError

BLOCK = 4 << 20
LONGEST_LINE = 1 << 20
SAMPLE = 1 << 18
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_ZIP = b"PK\x03\x04"
_PARTS = {"[Content_Types].xml", "mimetype", "content.xml"}
"""What a packed folder has that is a workbook: ISO/IEC 29500-2 and 26300-2."""
_BROKEN = (OSError, EOFError, zlib.error, zipfile.BadZipFile)
_WIDE = ("utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be")
_SPREADSHEETS = (".xlsx", ".xlsm", ".xlsb", ".xls", ".ods")


@dataclass(frozen=True, slots=True)
class Lines:
    """Whole lines: ``data`` ends with a line end; ``first`` is the number of its first line in the file, from 1."""

    data: bytes
    first: int
    start: int
    """Where ``data`` begins, counted in bytes of the text (after unpacking)."""
    long: tuple[tuple[int, bytes], ...] = ()
    """Lines that were cut out as too long: their number, and how they begin."""
    ended: bool = True
    """The last line had its line end in the file."""


def layout_of(path: Path) -> str:
    """Return ``parquet``, ``spreadsheet`` or ``text``, by the first bytes before the name."""
    with path.open("rb") as file:
        head = file.read(8)
    if head[:4] == b"PAR1":
        return "parquet"
    suffix = path.suffix.lower()
    if head[:4] in (_ZIP, b"PK\x05\x06"):  # the second: a folder with nothing in it
        return "text" if suffix not in _SPREADSHEETS and _packed_text(path) else "spreadsheet"
    if head[:4] == b"\xd0\xcf\x11\xe0" and suffix in _SPREADSHEETS:
        return "spreadsheet"
    return "text"


def _packed_text(path: Path) -> str:
    """Return the one file of a packed folder (zip), nothing where it is a workbook or damaged.

    Raises
    ------
    InputError
        It holds several files, none, or one that is no text.
    """
    try:
        with zipfile.ZipFile(path) as packed:
            names = [name for name in packed.namelist() if name and not name.endswith("/")]
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return ""
    if _PARTS & set(names):
        return ""
    logs = [name for name in names if not name.startswith("__MACOSX/") and not name.rpartition("/")[2].startswith(".")]
    if len(logs) == 1 and not logs[0].lower().endswith((*_SPREADSHEETS, ".parquet", ".zip")):
        return logs[0]
    held = ", ".join(logs[:3]) + (" ..." if len(logs) > 3 else "") if logs else "nothing"
    raise InputError("file", path.name, f"is packed and holds {held}", allowed="one log of text",
                     try_next="Unpack it and give the files in it.")  # fmt: skip


def open_text(path: Path) -> IO[bytes]:
    """Return the bytes of a file that holds text, unpacked where it is gzip or a zip of one file."""
    with path.open("rb") as file:
        head = file.read(4)
    if head[:2] == b"\x1f\x8b":
        return gzip.open(path, "rb")  # type: ignore[return-value]
    if head == _ZIP and (name := _packed_text(path)):
        packed = zipfile.ZipFile(path)
        try:
            return packed.open(name)
        except (RuntimeError, NotImplementedError) as error:  # a password, a way of packing that is not known
            raise InputError("file", path.name, f"cannot be unpacked: {error}") from error
        finally:
            packed.close()  # what is open within it keeps it open
    return path.open("rb")


def sample_of(path: Path, size: int = SAMPLE) -> bytes:
    """Return the first bytes of the text of a file."""
    try:
        with open_text(path) as file:
            return file.read(size)
    except _BROKEN as error:
        raise InputError("file", path.name, f"cannot be read: {error}") from error


def encoding_of(sample: bytes) -> tuple[str, int]:
    """Return the encoding of a text and the length of its byte-order mark.

    Text that is no UTF-8 is taken for Windows-1252, which holds Latin-1's letters and degree sign at the same places.
    """
    for mark, name in _MARKS:
        if sample.startswith(mark):
            return name, len(mark)
    few = sample[:4096]
    if len(few) >= 8:
        even, odd = few[0::2].count(0), few[1::2].count(0)
        if odd > 0.3 * len(few) / 2 and even < 0.05 * len(few):
            return "utf-16-le", 0
        if even > 0.3 * len(few) / 2 and odd < 0.05 * len(few):
            return "utf-16-be", 0
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        decoder.decode(sample)
    except UnicodeDecodeError:
        return "windows-1252", 0
    return "utf-8", 0


def decoded(data: bytes, encoding: str) -> str:
    """Return text for people; a byte that has no letter shows as U+FFFD."""
    return data.decode("utf-8" if encoding in _WIDE else encoding, errors="replace")


def encoded(text: str, encoding: str) -> bytes:
    """Return the bytes of a text as they stand in what ``lines_of`` yields."""
    return text.encode("utf-8" if encoding in _WIDE else encoding, errors="replace")


def lines_of(path: Path, encoding: str, *, position: int = 0, line: int = 1, block: int = BLOCK) -> Iterator[Lines]:
    """Yield the lines of a file from a position on, as UTF-8 where it is UTF-16 or UTF-32, else as its own bytes.

    ``position`` counts bytes of what is yielded (without the byte-order mark), and is where line ``line`` begins.
    """
    with open_text(path) as file:
        yield from _cut(_unpacked(file, encoding, position, path.name), position, line, block)


def lines_in(data: bytes, *, position: int = 0, line: int = 1, block: int = BLOCK) -> Iterator[Lines]:
    """Yield the lines of bytes at hand from a position on, as `lines_of` does those of a file."""
    return _cut(iter((data[position:],)), position, line, block)


def _unpacked(file: IO[bytes], encoding: str, position: int, name: str) -> Iterator[bytes]:
    mark = len({n: m for m, n in _MARKS}.get(encoding, b""))
    head = file.read(mark)
    if mark and not any(head == m for m, _ in _MARKS):
        file.seek(0)
    wide = encoding in _WIDE
    if not wide and position:
        file.seek(position, io.SEEK_CUR)
    decoder = codecs.getincrementaldecoder(encoding)(errors="replace") if wide else None
    to_skip = position if wide else 0
    carriage = _old_line_ends(file, wide)
    while True:
        try:
            raw = file.read(BLOCK)
        except _BROKEN as error:
            raise InputError("file", name, f"breaks off while it is unpacked: {error}") from error
        data = decoder.decode(raw, final=not raw).encode("utf-8") if decoder else raw
        if carriage:
            data = data.replace(b"\r", b"\n")
        if to_skip:
            data, to_skip = data[to_skip:], max(0, to_skip - len(data))
        if data:
            yield data
        if not raw:
            return


def _old_line_ends(file: IO[bytes], wide: bool) -> bool:
    """Return whether lines end with a carriage return alone."""
    if wide:
        return False
    here = file.tell()
    few = file.read(SAMPLE)
    file.seek(here)
    return b"\r" in few and b"\n" not in few


def _cut(parts: Iterator[bytes], position: int, line: int, block: int) -> Iterator[Lines]:
    """Yield whole lines; what comes without a line end is carried over, and let go where it is too long."""
    rest, start, long = b"", position, []
    dropped = 0  # bytes of a line that is too long, already let go
    beginning = b""
    for part in parts:
        data = rest + part
        if dropped:
            end = data.find(b"\n")
            if end < 0:
                dropped += len(data)
                rest = b""
                continue
            long.append((line, beginning))
            line += 1
            start += dropped + end + 1
            data, dropped = data[end + 1 :], 0
        cut = data.rfind(b"\n") + 1
        at = 0
        while at < cut:
            to = cut if cut - at <= block else data.rfind(b"\n", at, at + block) + 1
            to = to or data.find(b"\n", at + block) + 1
            piece = data[at:to]
            yield Lines(piece, line, start, tuple(long))
            long = []
            line += piece.count(b"\n")
            start += len(piece)
            at = to
        rest = data[cut:]
        if len(rest) > LONGEST_LINE:
            beginning, dropped, rest = rest[:200], len(rest), b""
    if dropped:
        yield Lines(b"", line + 1, start + dropped, (*long, (line, beginning)), ended=False)
    elif rest or long:
        yield Lines(rest + b"\n" if rest else b"", line, start, tuple(long), ended=False)


def digests_of(path: Path, sizes: Iterable[int] = ()) -> dict[int, str]:
    """Return SHA-256 of a file's first bytes for each size wanted that it has, and of the whole file."""
    found: dict[int, str] = {}
    running, at = hashlib.sha256(), 0
    wanted = sorted(set(sizes))
    with path.open("rb") as file:
        while True:
            until = next((size for size in wanted if size > at), None)
            data = file.read(BLOCK if until is None else min(BLOCK, until - at))
            if not data:
                break
            running.update(data)
            at += len(data)
            if at in wanted:
                found[at] = running.hexdigest()
    found[at] = running.hexdigest()
    return found
