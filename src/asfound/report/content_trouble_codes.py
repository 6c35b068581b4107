"""Fault codes in words: what each parameter and failure mode says, the lamps, how often, where to look first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.report.content_crosscheck_words import listed
from asfound.troubleshoot.fault_names import name_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.troubleshoot.fault_codes import Fault, FaultMessage
    from asfound.troubleshoot.fault_names import CodeName
    from asfound.troubleshoot.shown import Trouble
    from asfound.troubleshoot.told import FaultsRead

    Names = Mapping[tuple[int, int | None], CodeName]

LAMPS = {"protect": "protect lamp", "amber": "amber lamp", "red": "red stop lamp", "malfunction": "malfunction lamp"}
UNKNOWN = "no table here names it: look in the engine's own documents"
MAKERS = "the maker's own number: only its documents name it"
OLDER = "packed in an older way: the number must not be trusted"


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeShown:
    """One fault in words."""

    spn: int
    fmi: int
    title: str
    """What the home's table calls it; empty where none does."""
    means: str
    first: str
    times: str
    aside: str
    """What limits the reading of its number."""
    meaning: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MessageShown:
    """What one unit says."""

    head: str
    active: bool
    lamps: str
    codes: tuple[CodeShown, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadShown:
    """One reading of the bus, as it was kept."""

    entry: str
    time: str
    source: str
    messages: tuple[MessageShown, ...]


def codes_shown(trouble: Trouble) -> list[ReadShown]:
    """Return the fault codes of a visit, the newest reading first."""
    return [_read(one, trouble.code_names) for one in reversed(trouble.fault_messages)]


def _read(one: FaultsRead, names: Names) -> ReadShown:
    return ReadShown(
        entry=one.entry,
        time=one.time,
        source=one.source,
        messages=tuple(_message(said, names) for said in one.messages),
    )


def _message(one: FaultMessage, names: Names) -> MessageShown:
    kind = "Active faults" if one.active else "Earlier faults"
    lit = [
        f"{LAMPS[name]} {said}" for name, said in one.lamps.items() if said not in ("off", "not available", "reserved")
    ]
    return MessageShown(
        head=f"{kind} of unit {one.address}",
        active=one.active,
        lamps=listed(lit) if lit else "no lamp on",
        codes=tuple(_code(fault, names) for fault in one.faults),
    )


def _code(one: Fault, names: Names) -> CodeShown:
    name = name_of(one.spn, one.fmi, names)
    aside = OLDER if one.older_layout else MAKERS if one.makers_own and name is None else "" if name else UNKNOWN
    times = "not counted" if one.occurrences is None else f"{one.occurrences} times" if one.occurrences != 1 else "once"
    return CodeShown(
        spn=one.spn,
        fmi=one.fmi,
        title=name.title if name else "",
        means=one.means,
        first=one.first,
        times=times,
        aside=aside,
        meaning=(name.meaning or "") if name else "",
        source=(name.source or "") if name else "",
    )
