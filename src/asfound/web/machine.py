"""Whether this machine has time and current to spare for work that nobody waits for."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path

SUPPLIES = Path("/sys/class/power_supply")
IDLE_CLASS = 0x40
"""Windows: a process that runs when nothing else wants to."""


def on_mains(supplies: Path = SUPPLIES) -> bool:
    """Return whether the machine runs on mains; True where that cannot be told, as on one without a battery."""
    if sys.platform == "win32":
        return _on_mains_windows()
    if sys.platform == "darwin":
        import subprocess

        with contextlib.suppress(OSError, subprocess.SubprocessError):
            said = subprocess.run(["pmset", "-g", "batt"], capture_output=True, text=True, timeout=5, check=False)
            return "Battery Power" not in said.stdout
        return True
    return _on_mains_linux(supplies)


def _on_mains_linux(supplies: Path) -> bool:
    """Return whether a supply is on line, or none of the machine's own batteries is being emptied."""
    emptied = False
    with contextlib.suppress(OSError):
        for one in supplies.iterdir():
            kind, scope = _word(one / "type"), _word(one / "scope")
            if kind in ("Mains", "USB") and _word(one / "online") == "1":
                return True
            emptied |= kind == "Battery" and scope != "Device" and _word(one / "status") == "Discharging"
    return not emptied


def _word(path: Path) -> str:
    try:
        return path.read_text(encoding="ascii", errors="replace").strip()
    except OSError:
        return ""


def _on_mains_windows() -> bool:
    import ctypes

    state = (ctypes.c_ubyte * 12)()
    known: bool = ctypes.windll.kernel32.GetSystemPowerStatus(ctypes.byref(state))  # type: ignore[attr-defined]
    return not known or state[0] != 0  # 0 off line, 1 on line, 255 not known


def has_time() -> bool:
    """Return whether no more is running than this machine has cores, the asking process left aside."""
    try:
        return os.getloadavg()[0] < (os.cpu_count() or 1) + 0.5
    except (OSError, AttributeError):  # a system that does not say so
        return True


def give_way() -> None:
    """Let every other process go before this one."""
    if hasattr(os, "nice"):
        with contextlib.suppress(OSError):
            os.nice(19)
