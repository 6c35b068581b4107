"""Fault codes on a data bus of SAE J1939: from a pasted frame or a log's lines to parameter, failure mode, lamps.

DM1 (parameter group 65226) carries active faults, DM2 (65227) earlier ones: two bytes of lamps, then four bytes for
each fault. Messages longer than a frame come in parts, which are put together here: announced to all (control byte 32)
or asked for and sent to one (16 request to send, 17 clear to send, 19 received, 255 given up).
Which part of the engine a parameter number names is in the engine's own documents, or in a table that a company brings;
numbers from 516096 on are the maker's own (from memory). Bit layout: SAE J1939-73 and -21 as public pages give it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache

from asfound.errors import InputError
from asfound.sources.tables import load_csv

ACTIVE, EARLIER = 0xFECA, 0xFECB
CONTROL, PART = 0xEC, 0xEB
ASKED, ANNOUNCED, GIVEN_UP = 16, 32, 255
TO_ALL = 0xFF
LEAST_PARTS, MOST_PARTS = 9, 1785
"""Bytes of a message in parts."""
NOT_COUNTED = 127
OWN_FROM = 516096
LAMPS = ("protect", "amber", "red", "malfunction")
"""From the lowest two bits of the byte up."""
LIT = ("off", "on", "reserved", "not available")
FLASHES = ("slow flash", "fast flash", "reserved", "")
LOG_LINE = re.compile(
    r"^\s*(?:\([0-9.]+\)\s+)?(?:[A-Za-z]+[0-9]*\s+)?([0-9A-Fa-f]{8})#([0-9A-Fa-f. ]*)(?:\s+[RT])?\s*$"
)
SCREEN_LINE = re.compile(
    r"^\s*(?:\([0-9.]+\)\s+)?(?:[A-Za-z]+[0-9]*\s+)?(?:[RT]X\s+\S\s+\S\s+)?(?:0x)?([0-9A-Fa-f]{8})[\s:]+"
    r"(?:\[\d+\]\s+)?((?:[0-9A-Fa-f]{2}[\s,]*)+)(?:'.*')?\s*$"
)
PRINTED_LINE = re.compile(
    r"\bID:\s*([0-9A-Fa-f]{8})\s+.*?\bDL:\s*\d+\s+((?:[0-9A-Fa-f]{2}\s*)+?)(?:\s*'.*)?(?:\s+Channel:.*)?$"
)
"""As python-can prints a message."""
PASSED_OVER = re.compile(
    r"^\s*(?:\([0-9.]+\)\s+)?[A-Za-z]+[0-9]*\s+(?:[0-9A-Fa-f]{3}(?:#|\s+\[)|[0-9A-Fa-f]{8}(?:#R|##|\s+\[\d+\]\s+(?:remote|ERROR)))"
    r"|\bID:\s*[0-9A-Fa-f]{1,4}\s+S\b"
)
"""Frames of a log that SAE J1939 does not use: identifiers of 11 bits, requests without data, longer frames."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault: parameter number, failure mode, how often it occurred (None where it is not counted)."""

    spn: int
    fmi: int
    occurrences: int | None
    older_layout: bool
    """The method bit is set: the parameter number was packed in an older way and must not be trusted."""

    @property
    def means(self) -> str:
        """What the failure mode says."""
        return failure_modes().get(self.fmi, ("reserved; later editions may name it", ""))[0]

    @property
    def first(self) -> str:
        """Where to look first for such a failure mode (common practice)."""
        return failure_modes().get(self.fmi, ("", "the documents"))[1]

    @property
    def makers_own(self) -> bool:
        """Whether the number is one that each maker gives; only its documents tell what it names."""
        return self.spn >= OWN_FROM


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultMessage:
    """What one unit says: active or earlier faults, and its lamps."""

    address: int
    active: bool
    faults: tuple[Fault, ...]
    lamps: Mapping[str, str] = field(default_factory=dict)


@cache
def failure_modes() -> Mapping[int, tuple[str, str]]:
    """Return what each failure mode means and where to look first."""
    rows = load_csv("asfound.troubleshoot", "data/failure_modes.csv", columns=("fmi", "means", "first"))
    return {int(row["fmi"]): (row["means"], row["first"]) for row in rows}


def fault_of_bytes(four: bytes) -> Fault:
    """Return the fault that four bytes hold: 19 bits of number, 5 of mode, 7 of count, 1 of method."""
    if len(four) != 4:
        raise InputError("fault", four.hex(" "), "is not one fault", allowed="four bytes")
    count = four[3] & 0x7F
    return Fault(
        spn=four[0] | four[1] << 8 | four[2] >> 5 << 16,
        fmi=four[2] & 0x1F,
        occurrences=None if count == NOT_COUNTED else count,
        older_layout=bool(four[3] >> 7),
    )


def trouble_codes(payload: bytes) -> tuple[Fault, ...]:
    """Return the faults of the data of a DM1 or DM2; empty where the unit says that it has none (all zeros)."""
    if len(payload) < 6:
        raise InputError("data", payload.hex(" "), "is too short for a fault message", allowed="6 bytes and more")
    blocks = [payload[i : i + 4] for i in range(2, len(payload) - 3, 4)]
    return tuple(fault_of_bytes(one) for one in blocks if any(one) and one != b"\xff\xff\xff\xff")


def lamps(payload: bytes) -> dict[str, str]:
    """Return what each lamp does; a lamp that is on and flashes says so."""
    found = {}
    for i, name in enumerate(LAMPS):
        lit, flash = payload[0] >> 2 * i & 3, payload[1] >> 2 * i & 3
        found[name] = FLASHES[flash] if lit == 1 and FLASHES[flash] and flash != 2 else LIT[lit]
    return found


def decode(text: str) -> tuple[FaultMessage, ...]:
    """Return the fault messages in pasted text, in order, equal ones that follow each other once.

    Lines: ``(1436509052.2) can0 18FECA00#11CD...`` or ``can0 18FECA00 [8] 11 CD ...`` as a bus log has them, what
    python-can prints, or ``18FECA00 11 CD ...``. Frames that carry no faults are passed over.

    Raises
    ------
    InputError
        A line that is no frame, or no fault message in all the text.
    """
    found: list[FaultMessage] = []
    parts = _Parts()
    for identifier, data in _frames(text):
        for group, address, payload in parts.complete(identifier, data):
            if group in (ACTIVE, EARLIER):
                one = FaultMessage(
                    address=address,
                    active=group == ACTIVE,
                    faults=trouble_codes(payload),
                    lamps=lamps(payload),
                )
                if one not in found:
                    found.append(one)
    if not found:
        raise InputError(
            "frames",
            text.strip()[:60],
            "holds no whole fault message (parameter group 65226 or 65227)",
            allowed="lines such as 18FECA00#11CD61021300FFFF",
            try_next="Log the bus for some seconds; faults are sent once a second, in parts where there are several.",
        )
    return tuple(found)


def _frames(text: str) -> Iterator[tuple[int, bytes]]:
    """Yield identifier and data of each frame that may matter."""
    for number, line in enumerate(text.splitlines(), 1):
        if line.strip() and not line.lstrip().startswith("#") and not PASSED_OVER.search(line):
            yield _frame(line, number)


def _frame(line: str, number: int) -> tuple[int, bytes]:
    match = LOG_LINE.match(line) or SCREEN_LINE.match(line) or PRINTED_LINE.search(line)
    digits = re.sub(r"[^0-9A-Fa-f]", "", match.group(2)) if match else ""
    if not match or len(digits) % 2 or len(digits) > 16:
        raise InputError(
            f"line {number}",
            line.strip()[:60],
            "is no frame with an identifier of 29 bits",
            allowed="eight hexadecimal digits, then up to 8 bytes",
        )
    return int(match.group(1), 16), bytes.fromhex(digits)


class _Parts:
    """Messages in parts, by who sends them to whom."""

    def __init__(self) -> None:
        self.open: dict[tuple[int, int], tuple[int, int, dict[int, bytes]]] = {}

    def complete(self, identifier: int, data: bytes) -> Iterator[tuple[int, int, bytes]]:
        """Yield (group, sender, data) of what this frame completes: itself, or a message of which it is the last part.

        A sender has one announced message at a time; a new announcement, or one that was given up, ends the one
        before. Parts may come twice (asked for again) and in any order.
        """
        kind, to, sender = identifier >> 16 & 0xFF, identifier >> 8 & 0xFF, identifier & 0xFF
        if kind == CONTROL:
            self._control(sender, to, data)
        elif kind == PART:
            yield from self._part(sender, to, data)
        else:
            yield identifier >> 8 & (0x3FFFF if kind >= 240 else 0x3FF00), sender, data

    def _control(self, sender: int, to: int, data: bytes) -> None:
        if len(data) != 8:
            return
        size = data[1] | data[2] << 8
        announced = data[0] == ANNOUNCED and to == TO_ALL
        asked = data[0] == ASKED and to != TO_ALL
        if announced or asked:
            self.open.pop((sender, to), None)
            if LEAST_PARTS <= size <= MOST_PARTS:
                self.open[sender, to] = (data[5] | data[6] << 8 | data[7] << 16, size, {})
        elif data[0] == GIVEN_UP:
            self.open.pop((sender, to), None)
            self.open.pop((to, sender), None)

    def _part(self, sender: int, to: int, data: bytes) -> Iterator[tuple[int, int, bytes]]:
        if (sender, to) not in self.open or not data:
            return
        wanted, size, held = self.open[sender, to]
        held[data[0]] = data[1:]
        last = -(-size // 7)
        if all(i in held for i in range(1, last + 1)):
            del self.open[sender, to]
            whole = b"".join(held[i] for i in range(1, last + 1))[:size]
            if len(whole) == size:
                yield wanted, sender, whole


def only_faults(text: str) -> str:
    """Return the fault messages of a log as lines of one frame each or as an announced message, equal ones once.

    What `decode` says of them is what it says of the whole log.
    """
    found: list[tuple[int, int, bytes]] = []
    parts = _Parts()
    for frame in _frames(text):
        for group, sender, payload in parts.complete(*frame):
            if group in (ACTIVE, EARLIER) and (group, sender, payload) not in found:
                found.append((group, sender, payload))
    return "\n".join(line for one in found for line in frames_of(*one))


def frames_of(group: int, sender: int, payload: bytes) -> Iterator[str]:
    """Yield the lines of a message: one frame where it fits, else announced to all and sent in parts."""
    if len(payload) <= 8:
        yield f"{0x18 << 24 | group << 8 | sender:08X}#{payload.hex().upper()}"
        return
    number = -(-len(payload) // 7)
    head = bytes([ANNOUNCED, len(payload) & 0xFF, len(payload) >> 8, number, 0xFF])
    head += bytes([group & 0xFF, group >> 8 & 0xFF, group >> 16])
    yield f"1CEC{TO_ALL:02X}{sender:02X}#{head.hex().upper()}"
    for i in range(number):
        part = payload[7 * i : 7 * i + 7].ljust(7, b"\xff")
        yield f"1CEB{TO_ALL:02X}{sender:02X}#{i + 1:02X}{part.hex().upper()}"
