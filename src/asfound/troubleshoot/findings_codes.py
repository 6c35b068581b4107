"""Findings of fault codes that were read from the engine's data bus."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.quantities.words import Finding, Severity
from asfound.troubleshoot.fault_codes import Fault, FaultMessage
from asfound.troubleshoot.fault_names import name_of
from asfound.troubleshoot.findings_case import SUBJECT
from asfound.troubleshoot.shown import Trouble
from asfound.troubleshoot.told import FaultsRead

LIT = ("on", "slow flash", "fast flash")
MOST = 6
"""Faults of a message that are named one by one."""


def find(trouble: Trouble) -> Iterator[Finding]:
    """Yield what the newest fault messages of each unit say."""
    newest: dict[tuple[int, bool], tuple[FaultsRead, FaultMessage]] = {}
    for read in sorted(trouble.fault_messages, key=lambda one: one.time):
        for message in read.messages:
            newest[message.address, message.active] = (read, message)
    for (address, active), (read, message) in sorted(newest.items(), key=lambda one: (not one[0][1], one[0][0])):
        if message.faults or _lit(message):
            yield _of(trouble, read, message, address, active)


def _of(trouble: Trouble, read: FaultsRead, message: FaultMessage, address: int, active: bool) -> Finding:
    lit = _lit(message)
    named = [_words(trouble, one) for one in message.faults[:MOST]]
    more = f" and {len(message.faults) - MOST} more" if len(message.faults) > MOST else ""
    lamps = f" Lamps: {', '.join(f'{name} {how}' for name, how in lit.items())}." if lit else ""
    severity: Severity = "note"
    if active:
        severity = "stop" if "red" in lit else "visit" if message.faults else "soon"
    older = any(one.older_layout for one in message.faults)
    unnamed = any(name_of(one.spn, one.fmi, trouble.code_names) is None for one in message.faults)
    steps = [f"Look first: {first}." for first in dict.fromkeys(one.first for one in message.faults[:MOST])]
    if unnamed:
        steps.append("Numbers without a name: the engine's own documents, or fault_codes.csv in the home.")
    if older:
        steps.append("Some numbers are packed in an older way and must not be trusted: read them on the display.")
    return Finding(
        code="TS-20" if active else "TS-21",
        subject=SUBJECT,
        says=f"{'Active' if active else 'Earlier'} fault codes of unit {address}: {'; '.join(named) or 'none'}{more}."
        f"{lamps}",
        severity=severity,
        next_step=" ".join(steps) or "Ask what the lamps stand for.",
        because=(*((read.entry,) if read.entry else ()), f"unit_{address}"),
        extra={"address": str(address), "codes": ", ".join(f"{one.spn}/{one.fmi}" for one in message.faults)},
    )


def _lit(message: FaultMessage) -> dict[str, str]:
    return {name: how for name, how in message.lamps.items() if how in LIT}


def _words(trouble: Trouble, one: Fault) -> str:
    name = name_of(one.spn, one.fmi, trouble.code_names)
    title = f" {name.title}" if name else ""
    means = name.meaning if name and name.meaning else one.means
    times = (", once" if one.occurrences == 1 else f", {one.occurrences} times") if one.occurrences else ""
    return f"SPN {one.spn} FMI {one.fmi}{title} ({means}{times})"
