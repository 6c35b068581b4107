"""A bus log in a file becomes lines of frames: text is read here, other formats by python-can where that is there."""

from __future__ import annotations

from pathlib import PurePath

from asfound.errors import InputError

TEXT = (".log", ".txt", "")
"""Endings of logs that are lines of text as candump writes them, or pasted frames."""
BY_LIBRARY = (".asc", ".blf", ".csv", ".trc", ".mf4", ".db")
"""Endings that python-can reads, an extra of this program (`pip install asfound[can]` or python-can itself)."""


def frames_of_file(content: bytes, filename: str = "") -> str:
    """Return the frames of a log as lines ``(time) channel IDENTIFIER#DATA``.

    Raises
    ------
    InputError
        The format is not known, needs python-can which is not installed, or the file cannot be read in it.
    """
    ending = PurePath(filename).suffix.lower()
    if ending in TEXT:
        try:
            return content.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise InputError(
                "file", filename, "is no text", allowed="lines of frames as candump writes them",
                try_next="Name the file by its format: .asc, .blf, .csv, .trc.",
            ) from None  # fmt: skip
    if ending in BY_LIBRARY:
        return _by_library(content, filename, ending)
    raise InputError("file", filename, "is no bus log by its ending", allowed=", ".join((*TEXT[:2], *BY_LIBRARY)))


def _by_library(content: bytes, filename: str, ending: str) -> str:
    import tempfile
    from pathlib import Path

    try:
        import can
    except ModuleNotFoundError:
        raise InputError(
            "file", filename, "needs python-can, which is not installed here", allowed=", ".join(TEXT[:2]),
            try_next="Install python-can, or write the log with candump.",
        ) from None  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"log{ending}"
        path.write_bytes(content)
        try:
            with can.LogReader(path) as reader:
                return "\n".join(
                    f"({one.timestamp:.6f}) can0 {one.arbitration_id:08X}#{bytes(one.data).hex().upper()}"
                    for one in reader
                    if one.is_extended_id and not one.is_error_frame and not one.is_remote_frame
                )
        except Exception as fault:  # each reader of that library has its own faults
            raise InputError("file", filename, f"cannot be read as {ending}: {fault}") from None
