"""A formal test of the exhaust, brought into a visit as one thing with the file that it came in."""

from __future__ import annotations

import mimetypes
import tempfile
from pathlib import Path, PurePath
from typing import TYPE_CHECKING

from asfound.exhaust.test_run_files import read_test

if TYPE_CHECKING:
    from asfound.exhaust.test_run import EmissionTest
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.visit import VisitView

OF_A_TEST = (".csv", ".xlsx", ".ods", ".yaml", ".yml")
"""Kinds of file that a test is read from."""


def read_content(content: bytes, filename: str) -> EmissionTest:
    """Return the test that a file's content holds.

    Raises
    ------
    InputError
        As `read_test`: names row, column or field.
    """
    name = PurePath(filename.replace("\\", "/")).name or "test"
    with tempfile.TemporaryDirectory(prefix="asfound-") as folder:
        path = Path(folder) / f"test{PurePath(name).suffix.casefold()}"
        path.write_bytes(content)
        return read_test(path)


def bring_in(
    records: Records, view: VisitView, test: EmissionTest, *, content: bytes, filename: str, who: str, source: str = ""
) -> Entry:
    """Keep a test in a visit, with the file that it came in."""
    name = PurePath(filename.replace("\\", "/")).name[:200] or "test"
    media = mimetypes.guess_type(name)[0] or "application/octet-stream"
    return records.append(
        "emission_test",
        {
            "test": test.to_dict(),
            "state": test.state,
            "time": min(run.start for run in test.runs).isoformat(),
            "file": records.attach(content, name, media),
            "source": source or name,
        },
        visit=view.id,
        who=who,
    )
