"""Run every benchmark of this folder, or those named, each in a process of its own.

    python -m benchmarks                 all
    python -m benchmarks start sheet     benchmarks/start.py, benchmarks/sheet.py

A benchmark is a script: it prints its own table with all ratios taken in one run, and exits non-zero when a target that
it states is missed.
"""

from __future__ import annotations

import os
import platform
import subprocess
import sys
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

HERE = Path(__file__).parent


def scripts(names: list[str]) -> list[Path]:
    """Return the scripts to run, in the order of their names."""
    found = [path for path in sorted(HERE.glob("*.py")) if not path.stem.startswith("_")]
    known = {path.stem: path for path in found if "__main__" in path.read_text(encoding="utf-8")}  # others only help
    unknown = [name for name in names if name not in known]
    if unknown:
        sys.exit(f"no benchmark is called {', '.join(unknown)}; there are: {', '.join(known)}")
    return [known[name] for name in names] if names else list(known.values())


def machine() -> str:
    """Return one line that says what the numbers were taken on."""
    parts = [f"Python {platform.python_version()}", f"{os.cpu_count()} cores", platform.machine()]
    for package in ("numpy", "scipy", "duckdb", "typst"):
        try:
            parts.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            parts.append(f"{package} not installed")
    return ", ".join(parts)


def main(names: list[str]) -> int:
    """Run them; return 1 when any of them missed its target."""
    print(machine(), flush=True)
    missed = []
    for script in scripts(names):
        print(f"\n== {script.stem} ==", flush=True)
        if subprocess.run([sys.executable, "-m", f"benchmarks.{script.stem}"], cwd=HERE.parent, check=False).returncode:
            missed.append(script.stem)
    if missed:
        print(f"\nmissed its target or failed: {', '.join(missed)}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
