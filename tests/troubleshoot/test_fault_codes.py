"""Fault codes: values of an open test suite (see the room's sources), other programs' formats, and round trips."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError, KnowledgeError
from asfound.troubleshoot.bus_log import frames_of_file
from asfound.troubleshoot.fault_codes import (
    ACTIVE,
    EARLIER,
    decode,
    failure_modes,
    fault_of_bytes,
    frames_of,
    lamps,
    only_faults,
)
from asfound.troubleshoot.fault_names import name_of, read_names

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


# ---------------------------------------------------------------- asked for and sent to one (control bytes 16, 17, 19)

ASKED = """
(10.000000) can0 18EAFFF9#CAFE00
(10.010000) can0 1CECF900#100E0002FFCAFE00
(10.020000) can0 1CEC00F9#110201FFFFCAFE00
(10.030000) can0 1CEBF900#0111CD6102130021
(10.035000) can0 1CEBF921#0100000000000000
(10.040000) can0 1CEBF900#02061F00EE100400
(10.050000) can0 1CEC00F9#130E0002FFCAFE00
"""
"""The published message of `PARTS`, now asked for by unit 249; control bytes as SAE J1939-21 is commonly described (an
open stack's constants: 0x10 ask, 0x11 clear, 0x13 received, 0x20 announced, 0xFF given up)."""


def test_a_message_that_was_asked_for_says_the_same():
    assert decode(ASKED) == decode(PARTS)


def test_two_messages_in_parts_at_once_do_not_mix():
    other = PARTS.replace("ECFF00", "ECFF17").replace("EBFF00", "EBFF17").replace("11 CD 61", "11 CD 62")
    lines = [line for pair in zip(PARTS.splitlines(), other.splitlines(), strict=True) for line in pair]
    one, two = decode("\n".join(lines))
    assert (one.address, two.address) == (0, 0x17)
    assert one.faults[0].spn == 609
    assert two.faults[0].spn == 610
    both = PARTS + ASKED
    assert len(decode(both)) == 1  # the same message twice is told once


def test_one_that_was_given_up_or_announced_anew_gives_nothing_false():
    lines = ASKED.strip().splitlines()
    given_up = [*lines[:4], "can0 1CEC00F9#FF01FFFFFFCAFE00", *lines[5:]]
    with pytest.raises(InputError, match="whole fault message"):
        decode("\n".join(given_up))
    parts = PARTS.strip().splitlines()
    anew = [parts[0], parts[1], parts[0], parts[3]]  # the second announcement begins from nothing
    with pytest.raises(InputError):
        decode("\n".join(anew))
    twice = [*parts[:2], *parts[1:]]  # a part that came twice does no harm
    assert decode("\n".join(twice)) == decode(PARTS)


@pytest.mark.parametrize(
    "line",
    [
        "can0 123#0011",
        "(1.5) can0 7E8#0241",
        "can0  123   [2]  00 11",
        "can0 18FEF100#R",
        "can0 18FEF100##100112233445566778899AABB",
        "Timestamp:  1.50  ID: 0123  S Rx  DL:  2  00 11",
    ],
)
def test_frames_that_the_protocol_does_not_use_are_passed_over(line):
    assert decode(f"{line}\n18FECA00#04FF64000305FFFF\n{line}")[0].faults[0].spn == 100
    with pytest.raises(InputError):
        decode(line)


@given(
    st.lists(
        st.tuples(st.integers(1, 2**19 - 1), st.integers(0, 31), st.integers(1, 126)),
        min_size=1,
        max_size=30,
        unique=True,
    ),
    st.integers(0, 253),
    st.booleans(),
)
def test_messages_of_any_length_come_back(faults, sender, active):
    payload = b"\x04\xff" + b"".join(
        bytes([spn & 255, spn >> 8 & 255, spn >> 16 << 5 | fmi, count]) for spn, fmi, count in faults
    )
    payload = payload.ljust(8, b"\xff")
    text = "\n".join(frames_of(ACTIVE if active else EARLIER, sender, payload))
    (one,) = decode(text)
    assert (one.address, one.active) == (sender, active)
    assert [(fault.spn, fault.fmi, fault.occurrences) for fault in one.faults] == faults
    assert decode(only_faults(text + "\ncan0 18F00400#0000002000000000")) == (one,)


# ---------------------------------------------------------------- python-can reads and writes beside (independent)

FRAMES = [
    (0x18F00400, bytes(8)),
    (0x18ECFF00, bytes.fromhex("200E0002FFCAFE00")),
    (0x18EBFF00, bytes.fromhex("0111CD6102130021")),
    (0x18EBFF00, bytes.fromhex("02061F00EE100400")),
    (0x18FECB21, bytes.fromhex("04FF64000305FFFF")),
]


@pytest.mark.parametrize("ending", [".log", ".asc", ".csv", ".blf", ".trc"])
def test_logs_in_the_formats_of_a_general_library(tmp_path, ending):
    can = pytest.importorskip("can")
    path = tmp_path / f"bus{ending}"
    with can.Logger(path) as log:
        for i, (identifier, data) in enumerate(FRAMES):
            log.on_message_received(
                can.Message(
                    arbitration_id=identifier, data=data, is_extended_id=True, timestamp=1.5 + i, channel=0, is_rx=True
                )
            )
        log.on_message_received(can.Message(arbitration_id=0x123, data=b"\1", is_extended_id=False, timestamp=9.0))
    text = frames_of_file(path.read_bytes(), path.name)
    assert decode(text) == decode(PARTS + "18FECB21#04FF64000305FFFF")


def test_what_a_general_library_prints(tmp_path):
    can = pytest.importorskip("can")
    lines = [
        str(can.Message(arbitration_id=identifier, data=data, is_extended_id=True, timestamp=1.5, channel="can0"))
        for identifier, data in FRAMES
    ]
    assert decode("\n".join(lines)) == decode(PARTS + "18FECB21#04FF64000305FFFF")


def test_a_text_log_is_read_as_a_general_library_reads_it(tmp_path):
    can = pytest.importorskip("can")
    path = tmp_path / "bus.log"
    path.write_text("\n".join(f"(1.{i}) can0 {one:08X}#{data.hex()}" for i, (one, data) in enumerate(FRAMES)) + "\n")
    with can.LogReader(path) as reader:
        theirs = "\n".join(f"{one.arbitration_id:08X}#{bytes(one.data).hex()}" for one in reader)
    assert decode(path.read_text(encoding="utf-8")) == decode(theirs)


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # that library leaves a bad file open
def test_files_that_are_no_log_are_refused():
    with pytest.raises(InputError, match="no bus log by its ending"):
        frames_of_file(b"x", "a.pdf")
    with pytest.raises(InputError, match="no text"):
        frames_of_file(b"\xff\xfe\xfa", "a.log")
    pytest.importorskip("can")
    with pytest.raises(InputError, match=r"cannot be read as \.blf"):
        frames_of_file(b"not one", "a.blf")


# ---------------------------------------------------------------- names by a table of the home

TABLE = "# of the maker's book\nspn,fmi,title,meaning,source\n609,,Box 2,,p. 3\n609,19,Box 2 data,wrong,p. 4\n"


def test_a_name_of_the_mode_goes_before_that_of_the_parameter():
    names = read_names(TABLE)
    assert name_of(609, 19, names).title == "Box 2 data"
    assert name_of(609, 2, names).title == "Box 2"
    assert name_of(610, 2, names) is None


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("609,19", "x,19", "codes.csv:4:1: 'x' is no SPN"),
        ("609,19", "609,32", "codes.csv:4:2: '32' is no FMI"),
        ("609,19", "609,", "stands here twice"),
        ("Box 2 data", "", "'title' is empty"),
        ("p. 4", "", "'source' is empty"),
        (",meaning", "", "column 'meaning' is missing"),
        ("wrong,p. 4", "wrong", "4 fields under 5"),
        (TABLE, "", "the table is empty"),
    ],
)
def test_a_slip_in_the_table_is_refused_with_its_line(old, new, says):
    with pytest.raises(KnowledgeError) as caught:
        read_names(TABLE.replace(old, new, 1), file="codes.csv")
    assert says in str(caught.value)
