"""What was answered as kept is there after the program was killed in the middle of writing."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

from asfound.records.store import Records

WRITER = """
import sys
from asfound.records.store import Records
records = Records.open(sys.argv[1])
visit = records.visits()[0].id
for n in range(100000):
    content = {"text": f"{sys.argv[2]} {n} " + "x" * 2000, "time": "2032-07-08T15:00:00Z"}
    entry = records.append("note", content, visit=visit)
    print(entry.id, flush=True)
"""


@pytest.mark.skipif(os.name == "nt", reason="kill -9 is not of that system")
def test_killed_in_mid_write_nothing_confirmed_is_lost(records, begin):
    begin(records)
    records.close()
    confirmed: set[str] = set()
    for round_ in range(2):
        writers = [
            subprocess.Popen(
                [sys.executable, "-c", WRITER, str(records.home.folder), f"{round_}{name}"],
                stdout=subprocess.PIPE,
                text=True,
            )
            for name in "ab"
        ]
        lines = [[], []]
        for writer, said in zip(writers, lines, strict=True):
            said.append(writer.stdout.readline())
        time.sleep(0.25)
        for writer in writers:
            writer.send_signal(signal.SIGKILL)
        for writer, said in zip(writers, lines, strict=True):
            said += writer.stdout.readlines()
            writer.wait()
            writer.stdout.close()
        confirmed |= {line.strip() for said in lines for line in said if line.endswith("\n") and len(line) == 37}
    again = Records.open(records.home.folder)
    kept = {one.id for one in again.entries(kind="note")}
    assert len(confirmed) > 10
    assert confirmed <= kept
    assert len(kept) <= len(confirmed) + 6  # at most one each that was kept and not yet answered
    assert again.database.faults() == ()
    again.close()
