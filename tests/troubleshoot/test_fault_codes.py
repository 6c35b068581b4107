"""Fault codes: values of an open test suite (see the room's sources), other programs' formats, and round trips."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.troubleshoot.fault_codes import decode, failure_modes, fault_of_bytes, lamps

WHOLE = bytes.fromhex("11cd6102130021061f00ee100400")
"""Tests of the J1939-84 program (Equipment and Tool Institute): lamps off, slow, off, fast; 609/19, 1569/31, 4334/4."""
PARTS = """
can0  18ECFF00   [8]  20 0E 00 02 FF CA FE 00
can0  18EBFF00   [8]  01 11 CD 61 02 13 00 21
can0  18F00400   [8]  00 00 00 20 4E 00 00 00
can0  18EBFF00   [8]  02 06 1F 00 EE 10 04 00
"""


def test_the_published_message_in_parts():
    (one,) = decode(PARTS)
    assert one.active
    assert one.address == 0
    assert [(fault.spn, fault.fmi, fault.occurrences) for fault in one.faults] == [
        (609, 19, 0),
        (1569, 31, 0),
        (4334, 4, 0),
    ]
    assert one.lamps == {"malfunction": "off", "red": "slow flash", "amber": "off", "protect": "fast flash"}
    assert lamps(WHOLE) == one.lamps


@pytest.mark.parametrize(
    "line",
    [
        "(1436509052.249713) can0 18FECB21#04FF64000305FFFF",
        "can0  18FECB21   [8]  04 FF 64 00 03 05 FF FF",
        "  can0  18FECB21   [8]  04 ff 64 00 03 05 ff ff",
        "18FECB21#04FF64000305FFFF",
        "0x18FECB21 04 FF 64 00 03 05 FF FF",
    ],
)
def test_lines_as_logs_have_them(line):
    (one,) = decode(line)
    assert (one.active, one.address) == (False, 0x21)
    assert [(fault.spn, fault.fmi, fault.occurrences) for fault in one.faults] == [(100, 3, 5)]
    assert one.lamps["amber"] == "on"
    assert one.faults[0].first == "wiring and supply"


def test_no_fault_is_an_answer():
    (one,) = decode("18FECA00#00FF00000000FFFF")
    assert one.faults == ()


def test_the_same_message_again_is_told_once():
    assert len(decode("18FECA00#04FF64000305FFFF\n" * 5)) == 1


@pytest.mark.parametrize("text", ["", "hello", "18F00400#0000002000000000", "18FECA00#123", "FECA#0011"])
def test_what_holds_no_fault_message_is_refused(text):
    with pytest.raises(InputError):
        decode(text)


def test_a_part_that_is_missing_gives_no_half_message():
    with pytest.raises(InputError, match="whole fault message"):
        decode("\n".join(PARTS.strip().splitlines()[:2]))


@given(st.integers(0, 2**19 - 1), st.integers(0, 31), st.integers(0, 127), st.booleans())
def test_round_trip(spn, fmi, count, older):
    four = bytes([spn & 255, spn >> 8 & 255, spn >> 16 << 5 | fmi, count | older << 7])
    one = fault_of_bytes(four)
    assert (one.spn, one.fmi, one.older_layout) == (spn, fmi, older)
    assert one.occurrences == (None if count == 127 else count)
    assert one.makers_own == (spn >= 516096)
    assert one.means


def test_modes_are_those_that_are_assigned():
    assert set(failure_modes()) == {*range(22), 31}


def test_a_log_as_a_general_library_writes_it(tmp_path):
    """python-can's writer of bus logs (an independent program); skipped where it is not installed."""
    can = pytest.importorskip("can")
    with can.CanutilsLogWriter(tmp_path / "bus.log") as log:
        for identifier, data in [(0x18F00400, b"\0" * 8), (0x18FECA00, WHOLE[:6] + b"\xff\xff")]:
            log.on_message_received(
                can.Message(arbitration_id=identifier, data=data, is_extended_id=True, timestamp=1.5, channel="can0")
            )
    (one,) = decode((tmp_path / "bus.log").read_text(encoding="utf-8"))
    assert [(fault.spn, fault.fmi) for fault in one.faults] == [(609, 19)]
