"""Random histories on three laptops that hand bundles to each other in any order: all end with the same record.

    python -m benchmarks.merges                          10,000 histories, in two processes
    python -m benchmarks.merges --histories 500 --processes 1 --seed 7

The laws are those of ``tests/records/test_merge.py`` (``Many``: the record's own rules, without a database under them):
five homes say the same, byte for byte, whatever the order; two people settle everything apart and exchange it; what was
settled is not asked again. Prints how often each rule was reached. Exits 1 with the shortest failing history.
"""

from __future__ import annotations

import argparse
import json
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path


def part(histories: int, seed: int) -> Counter[str]:
    """Run histories in this process; return how often each rule was reached, and how many histories ran."""
    import hypothesis
    from hypothesis.stateful import run_state_machine_as_test
    from tests.records import test_merge as merge

    from asfound.records.store import Records

    folder = Path(tempfile.mkdtemp(dir=merge.MEMORY))
    try:
        Records.open(folder / "home").close()
        (folder / "home" / "settings.json").unlink()
        merge.Laptops.empty = folder / "home"
        asked = hypothesis.settings(
            merge.TestMany.settings, max_examples=histories, database=None, derandomize=False, print_blob=True
        )
        machine = hypothesis.seed(seed)(type("Counted", (merge.Many,), {"teardown": _ended}))
        run_state_machine_as_test(machine, settings=asked)
    finally:
        shutil.rmtree(folder)
    return merge.REACHED


def _ended(machine: object) -> None:
    from tests.records import test_merge as merge

    merge.Many.teardown(machine)  # type: ignore[arg-type]
    merge.REACHED["histories"] += hasattr(machine, "laptops")


def main() -> int:
    """Run all parts and print what they reached."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    words.add_argument("--histories", type=int, default=10_000)
    words.add_argument("--processes", type=int, default=2)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--part", action="store_true", help=argparse.SUPPRESS)
    asked = words.parse_args()
    if asked.part:
        print(json.dumps(part(asked.histories, asked.seed)))
        return 0
    began = time.monotonic()
    each = -(-asked.histories // asked.processes)
    command = [sys.executable, "-m", "benchmarks.merges", "--part", "--histories", str(each)]
    parts = [
        subprocess.Popen([*command, "--seed", str(asked.seed + n)], stdout=subprocess.PIPE, text=True)
        for n in range(asked.processes)
    ]
    reached, failed = Counter[str](), 0
    for one in parts:
        said, _ = one.communicate()
        failed += one.returncode != 0
        reached.update(json.loads(said.splitlines()[-1]) if one.returncode == 0 else {})
    print(f"{reached.pop('histories', 0):,} histories in {time.monotonic() - began:.0f} s, {failed} parts failed")
    for name, times in reached.most_common():
        print(f"  {name:<28} {times:9,}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
