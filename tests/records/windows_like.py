"""As much of Windows as can be had elsewhere: open files that nobody may move or remove, no hard links, no ``fcntl``.

As a plugin it holds for a whole run: ``python -m pytest -p tests.records.windows_like tests/records``.
"""

from __future__ import annotations

import builtins
import contextlib
import errno
import os
import shutil
import sys
import types
from pathlib import Path

import pytest

from asfound.history import disk

HELD: set[int] = set()
"""Inodes of the files that the stand-in of ``msvcrt`` has locked."""


def open_here(path: object) -> bool:
    """Tell whether this process holds a file, or one in a folder, open."""
    target = os.path.realpath(os.fspath(path))  # type: ignore[call-overload]
    for one in os.listdir("/proc/self/fd"):
        with contextlib.suppress(OSError):
            name = os.readlink(f"/proc/self/fd/{one}")
            if name == target or name.startswith(f"{target}/"):
                return True
    return False


def _locking(handle: int, mode: int, _size: int) -> None:
    inode = os.fstat(handle).st_ino
    if mode == 0:
        HELD.discard(inode)
    elif inode in HELD:
        raise OSError(errno.EACCES, "Permission denied")
    else:
        HELD.add(inode)


def apply(patched: pytest.MonkeyPatch) -> None:
    """Let this process be refused what Windows refuses."""

    def guarded(name: str, *which: int) -> None:
        real = getattr(os, name)

        def guarding(*given: object, **named: object) -> object:
            for n in which:
                if open_here(given[n]):
                    raise PermissionError(errno.EACCES, "The process cannot access the file", given[n])
            return real(*given, **named)

        patched.setattr(os, name, guarding)

    def no_links(*_: object, **__: object) -> None:
        raise OSError(errno.EPERM, "no hard links here")

    real_open, real_import = os.open, builtins.__import__

    def no_folders(path: object, *given: object, **named: object) -> int:
        if named.get("dir_fd") is None and not isinstance(path, int) and os.path.isdir(path):  # type: ignore[arg-type]
            raise PermissionError(errno.EACCES, "Permission denied", path)
        return real_open(path, *given, **named)  # type: ignore[arg-type]

    def without(name: str, *given: object, **named: object) -> object:
        if name in {"fcntl", "resource"}:
            raise ImportError(name)
        return real_import(name, *given, **named)  # type: ignore[arg-type]

    guarded("replace", 0, 1)
    guarded("rename", 0, 1)
    guarded("unlink", 0)
    guarded("remove", 0)
    patched.setattr(os, "link", no_links)
    patched.setattr(os, "open", no_folders)
    patched.setattr(builtins, "__import__", without)
    patched.setattr(shutil, "_use_fd_functions", False)
    patched.setattr(disk, "WINDOWS", True)
    patched.setattr(disk, "PATIENCE", 0.2)
    patched.setitem(sys.modules, "msvcrt", types.SimpleNamespace(locking=_locking, LK_NBLCK=2, LK_UNLCK=0))


@pytest.fixture(autouse="windows_like" in " ".join(sys.argv))
def windows_like(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Run a test so."""
    _ = tmp_path
    apply(monkeypatch)
