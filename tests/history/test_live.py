"""Live: a file that grows, and registers read from the library's own server."""

from __future__ import annotations

import asyncio
import math
import struct
import threading

import numpy as np
import pytest

from asfound.errors import InputError, KnowledgeError
from asfound.history.importing import MemorySink
from asfound.history.live_registers import RegisterReader, only_reads
from asfound.history.live_tail import Tail
from asfound.history.log_form import Column, LogForm
from asfound.history.mapping import ColumnIs, Mapping
from asfound.history.register_map import load_map, map_of

pytest.importorskip("pymodbus")

FORM = LogForm(
    delimiter=";", order="ymd", zone="UTC", step=60, header_line=1, first_row=2,
    columns=(Column(head="Time", role="time"), Column(head="Speed", unit="rpm")),
)  # fmt: skip
MAPPING = Mapping(source="panel", columns=(ColumnIs(head="Speed", unit="rpm", quantity="engine_speed"),))


def test_a_growing_file(tmp_path):
    path, sink = tmp_path / "live.csv", MemorySink()
    tail = Tail(path, sink, FORM, MAPPING)
    assert "cannot be read now" in tail.look().notes[0]
    path.write_text("Time;Speed\n2032-01-01 00:00;900\n2032-01-01 00:01;90")
    first = tail.look()
    assert (first.read, first.kept, first.files[0].held) == (1, 1, 1)
    with path.open("a") as file:
        file.write("1\n2032-01-01 00:02;902\nrubbish\n2032-01-01 00:03;903\n")
    second = tail.look()
    assert (second.read, second.kept, second.refused) == (4, 3, 1)
    assert [(one.line, one.why) for one in tail.ledger] == [(5, "too few fields")]
    assert tail.look().read == 0
    np.testing.assert_allclose(sink.rows().values["engine_speed@engine"], np.array([900, 901, 902, 903]) * np.pi / 30)


def test_a_file_that_was_begun_anew(tmp_path):
    path, sink = tmp_path / "live.csv", MemorySink()
    path.write_text("Time;Speed\n2032-01-01 00:00;900\n2032-01-01 00:01;901\n")
    tail = Tail(path, sink, FORM, MAPPING)
    assert tail.look().kept == 2
    path.write_text("Time;Speed\n2032-01-02 00:00;800\n")
    report = tail.look()
    assert report.kept == 1
    assert "another file" in report.notes[0]
    assert len(sink.rows()) == 3


def test_a_file_renamed_between_two_looks_loses_nothing(tmp_path):
    path, sink = tmp_path / "live.csv", MemorySink()
    path.write_text("Time;Speed\n2032-01-01 00:00;900\n2032-01-01 00:01;90")
    tail = Tail(path, sink, FORM, MAPPING)
    assert tail.look().kept == 1
    with path.open("a") as file:
        file.write("1\n2032-01-01 00:02;902")  # its last line never got an end
    path.rename(tmp_path / "live.csv.1")
    path.write_text("Time;Speed\n2032-01-01 00:03;903\n")
    report = tail.look()
    assert (report.read, report.kept, report.refused) == (3, 3, 0)
    assert any("live.csv.1: is the old file" in note for note in report.notes)
    np.testing.assert_allclose(sink.rows().values["engine_speed@engine"], np.array([900, 901, 902, 903]) * np.pi / 30)


def test_a_file_copied_and_emptied_loses_nothing(tmp_path):
    path, sink = tmp_path / "live.csv", MemorySink()
    (tmp_path / "older.csv").write_text("Time;Speed\n2031-01-01 00:00;500\n2031-01-01 00:01;500\n" * 40)
    path.write_text("Time;Speed\n2032-01-01 00:00;900\n")
    tail = Tail(path, sink, FORM, MAPPING)
    assert tail.look().kept == 1
    with path.open("a") as file:
        file.write("2032-01-01 00:01;901\n")
    (tmp_path / "live-old.csv").write_bytes(path.read_bytes())
    path.write_text("")
    report = tail.look()
    assert report.kept == 1
    assert len(sink.rows()) == 2
    path.write_text("Time;Speed\n2032-01-01 00:02;902\n")
    assert tail.look().kept == 1
    assert len(sink.rows()) == 3


def test_an_old_file_that_is_gone_is_said(tmp_path):
    path, sink = tmp_path / "live.csv", MemorySink()
    path.write_text("Time;Speed\n2032-01-01 00:00;900\n2032-01-01 00:01;901\n")
    tail = Tail(path, sink, FORM, MAPPING)
    tail.look()
    path.write_text("Time;Speed\n2032-01-02 00:00;800\n")
    assert any("not beside it" in note for note in tail.look().notes)


# --- registers

REGISTERS = [
    {"name": "Oil", "table": "input", "address": 100, "type": "uint16", "scale": 0.1, "unit": "psi",
     "quantity": "oil_pressure"},
    {"name": "Coolant", "table": "input", "address": 101, "type": "int16", "unit": "°C",
     "quantity": "jacket_water_outlet_temperature", "bad": [-32768]},
    {"name": "Power", "table": "holding", "address": 10, "type": "float32", "unit": "kW", "quantity": "engine_power"},
    {"name": "Hours", "table": "holding", "address": 12, "type": "uint32", "words": "low_first", "unit": "h",
     "quantity": "engine_hours"},
    {"name": "Trip", "table": "holding", "address": 14, "type": "bit", "bit": 3},
    {"name": "Running", "table": "discrete", "address": 2},
    {"name": "Fan", "table": "coil", "address": 1},
]  # fmt: skip


def given(port: int, **more: object) -> dict[str, object]:
    return {"host": "127.0.0.1", "port": port, "period": 0.2, "timeout": 1.0, "registers": REGISTERS} | more


class Device:
    """The library's server in a thread, with registers that a test sets."""

    def __init__(self, input_: dict[int, int], holding: dict[int, int], port: int = 0) -> None:
        self.blocks, self.port, self.started = (input_, holding), port, threading.Event()
        self.loop = asyncio.new_event_loop()
        self.thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> Device:
        self.thread.start()
        assert self.started.wait(10)
        return self

    def __exit__(self, *_: object) -> None:
        asyncio.run_coroutine_threadsafe(self.server.shutdown(), self.loop).result(10)
        self.loop.call_soon_threadsafe(self.loop.stop)
        self.thread.join(10)
        self.loop.close()

    def _run(self) -> None:
        asyncio.set_event_loop(self.loop)
        self.loop.run_until_complete(self._start())
        self.loop.run_forever()

    async def _start(self) -> None:
        from pymodbus.server import ModbusTcpServer
        from pymodbus.simulator import DataType, SimData, SimDevice

        def registers(block: dict[int, int]) -> list[object]:
            return [SimData(at, values=value, datatype=DataType.REGISTERS) for at, value in sorted(block.items())]

        bits = [SimData(0, values=[False, True, True, False] + [False] * 12, datatype=DataType.BITS)]
        device = SimDevice(1, simdata=(bits, bits, registers(self.blocks[1]), registers(self.blocks[0])))
        self.server = ModbusTcpServer(device, address=("127.0.0.1", self.port))
        await self.server.listen()
        self.port = self.server.transport.sockets[0].getsockname()[1]
        self.started.set()


def holding_registers(power: float = 731.5, hours: int = 41230) -> dict[int, int]:
    words = struct.unpack(">2H", struct.pack(">f", power))
    return {10: words[0], 11: words[1], 12: hours & 0xFFFF, 13: hours >> 16, 14: 0b1000}


@pytest.fixture
def device():
    with Device({100: 602, 101: 65536 - 5}, holding_registers()) as running:
        yield running


def by_name(look):
    return {one.name: one for one in look.readings}


def test_registers_become_readings_with_time_and_origin(device):
    with RegisterReader(map_of(given(device.port)), now=lambda: 1_700_000_000.5) as reader:
        look = reader.look()
    found = by_name(look)
    assert not look.notes
    assert found["Oil"].value == pytest.approx(60.2 * 6894.757293168)
    assert found["Coolant"].value == pytest.approx(268.15)
    assert found["Power"].value == pytest.approx(731.5e3)
    assert found["Hours"].value == pytest.approx(41230 * 3600)
    assert (found["Trip"].value, found["Running"].value, found["Fan"].value) == (1.0, 1.0, 1.0)
    assert found["Oil"].time == 1_700_000_000_500_000
    assert found["Oil"].origin == f"modbus://127.0.0.1:{device.port}/1/input/100"
    row = look.channels("panel")
    assert set(row.values) >= {"oil_pressure@engine", "raw:Trip@engine"}


def test_a_bad_register_is_said_and_costs_no_other(device):
    missing = {"name": "Nowhere", "table": "input", "address": 102, "quantity": "oil_temperature", "unit": "°C"}
    with RegisterReader(map_of(given(device.port, registers=[*REGISTERS, missing]))) as reader:
        look = reader.look()
    found = by_name(look)
    assert math.isnan(found["Nowhere"].value)
    assert found["Nowhere"].why == "the device has no such address"
    assert found["Oil"].value > 0
    assert "Nowhere: the device has no such address" in look.notes


def test_a_number_that_stands_for_no_value():
    with Device({100: 602, 101: 0x8000}, holding_registers(math.nan)) as device, \
            RegisterReader(map_of(given(device.port))) as reader:  # fmt: skip
        found = by_name(reader.look())
    assert found["Coolant"].why == "-32768 stands for no value"
    assert found["Power"].why == "no number"


def test_a_lost_connection_is_made_again():
    with Device({100: 602, 101: 80}, holding_registers()) as device:
        port = device.port
        reader = RegisterReader(map_of(given(port)), sleep=lambda _: None)
        assert by_name(reader.look())["Oil"].value > 0
    looks = [reader.look(), reader.look()]
    assert all(math.isnan(one.value) for one in looks[-1].readings)
    assert any("does not take a connection" in note for note in looks[-1].notes)
    with Device({100: 700, 101: 80}, holding_registers(), port):
        again = reader.look()
        assert by_name(again)["Oil"].value > 0
        assert "Oil: answers again" in again.notes
        reader.close()


def test_nothing_can_be_written(device):
    """No method writes; and the client below, asked behind our back, cannot send it."""
    with RegisterReader(map_of(given(device.port))) as reader:
        reader.look()
        assert not [name for name in dir(reader) if "write" in name]
        with pytest.raises(InputError, match="no function that reads"):
            reader._client.write_register(10, 1)
        with pytest.raises(InputError, match="not in the map"):
            reader._ask("holding", 15, 1, [])
        reader.close()
        assert by_name(reader.look())["Power"].value == pytest.approx(731.5e3)


def test_only_addresses_of_the_map_are_asked_for():
    found = map_of(given(502))
    assert found.requests() == (("coil", 1, 1), ("discrete", 2, 1), ("holding", 10, 5), ("input", 100, 2))
    apart = map_of(given(502, registers=[{"name": "a", "address": 0}, {"name": "b", "address": 2}]))
    assert apart.requests() == (("holding", 0, 1), ("holding", 2, 1))


class Message:
    function_code = 16


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"host": "8.8.8.8"}, "public network"),
        ({"host": "panel.example.com"}, "public network"),
        ({"host": ""}, "is not told"),
        ({"registers": []}, "are none"),
        ({"period": 0.01}, "no time between readings"),
        ({"port": 70000}, "1 to 65535"),
        ({"write": True}, "no field of a map"),
        ({"registers": [{"name": "x", "address": 70000}]}, "0 to 65535"),
        ({"registers": [{"name": "x", "address": 1, "table": "file"}]}, "coil, discrete, holding, input"),
        ({"registers": [{"name": "x", "address": 1, "function": 6}]}, "no field of a register"),
        ({"registers": [{"name": "x", "address": 1, "unit": "kW", "quantity": "oil_pressure"}]}, "unit of power"),
        ({"registers": [{"name": "x", "address": 1}, {"name": "x", "address": 2}]}, "is also the channel"),
    ],
)
def test_a_map_that_cannot_be(change, says):
    with pytest.raises(InputError, match=says):
        map_of(given(502) | change)


def test_messages_that_write_do_not_leave(tmp_path):
    with pytest.raises(InputError):
        only_reads(True, Message())
    assert only_reads(False, Message())
    (tmp_path / "map.yaml").write_text("host: [")
    with pytest.raises(KnowledgeError, match="no YAML"):
        load_map(tmp_path / "map.yaml")
