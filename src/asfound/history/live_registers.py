"""Readings from a device on the site's network by Modbus/TCP. It reads; there is no way in here to write.

Two locks, not one: only the four reading functions are reachable, for addresses of the map alone; and every packet on
its way out is looked at, and one with any other function does not leave.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from asfound.errors import InputError
from asfound.history.channels import Channels
from asfound.history.mapping import scale_of
from asfound.history.register_map import FUNCTIONS, Register, RegisterMap

_REFUSALS = {
    1: "the device does not know this function", 2: "the device has no such address", 3: "the device refuses the count",
    4: "the device failed", 6: "the device is busy", 10: "no way to the device behind the gateway",
    11: "the device behind the gateway does not answer",
}  # fmt: skip
"""Exception codes: Modbus Application Protocol V1.1b3, section 7."""
_SLOWEST = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveReading:
    """One value with its time and origin; ``value`` is nan where ``why`` says why there is none."""

    channel: str
    value: float
    """SI unit of the quantity; as the device gives it for a raw channel."""
    time: int
    """Microseconds UTC, when the answer came."""
    origin: str
    """``modbus://host:port/device/table/address``."""
    name: str
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """All registers once."""

    time: int
    readings: tuple[LiveReading, ...]
    notes: tuple[str, ...] = ()
    """What went wrong with the connection."""

    def channels(self, source: str = "") -> Channels:
        """Return the values as one row for the store."""
        values = {one.channel: [one.value] for one in self.readings if not math.isnan(one.value)}
        return Channels.of([self.time], values, source=source)


def only_reads(sending: bool, pdu: Any) -> Any:
    """Let a message pass when it is an answer, or asks with a function that reads; anything else does not leave."""
    if sending and getattr(pdu, "function_code", None) not in FUNCTIONS.values():
        raise InputError("function", str(getattr(pdu, "function_code", "?")), "is no function that reads",
                         allowed="1, 2, 3, 4")  # fmt: skip
    return pdu


@dataclass(slots=True)
class RegisterReader:
    """Reads the registers of a map, again and again; a connection that is lost is made again.

    Parameters
    ----------
    map : RegisterMap
    now, sleep : callable, optional
        Clock (seconds since 1970) and sleep, for tests.
    """

    map: RegisterMap
    now: Callable[[], float] = time.time
    sleep: Callable[[float], None] = time.sleep
    _client: Any = None
    _wait: float = 0.0
    _last: dict[str, str] = field(default_factory=dict)

    def look(self) -> Look:
        """Return all registers as they are now; without a connection each says so."""
        notes: list[str] = []
        if not self._connected(notes):
            why = "no connection"
            return self._look({one.name: (math.nan, why) for one in self.map.registers}, notes)
        found: dict[str, tuple[float, str]] = {}
        for table, address, count in self.map.requests():
            inside = [r for r in self.map.registers if r.table == table and address <= r.address < address + count]
            words, why = self._ask(table, address, count, notes)
            if words is None and len(inside) > 1 and self._client is not None:
                for one in inside:  # one bad register must not cost its neighbours
                    alone, reason = self._ask(table, one.address, one.size, notes)
                    found[one.name] = self._value(one, alone, reason)
                continue
            for one in inside:
                at = one.address - address
                found[one.name] = self._value(one, None if words is None else words[at : at + one.size], why)
        return self._look(found, notes)

    def follow(self, *, looks: int | None = None) -> Iterator[Look]:
        """Yield a look each period of the map; after a lost connection it waits longer each time, up to a minute."""
        while looks is None or looks > 0:
            look = self.look()
            yield look
            looks = None if looks is None else looks - 1
            if looks is None or looks > 0:
                self.sleep(max(self.map.period, self._wait))

    def close(self) -> None:
        """Let the connection go."""
        if self._client is not None:
            self._client.close()
            self._client = None

    def __enter__(self) -> RegisterReader:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _connected(self, notes: list[str]) -> bool:
        if self._client is not None:
            return True
        try:
            from pymodbus.client import ModbusTcpClient
        except ImportError:
            raise InputError(
                "live", "Modbus/TCP", "needs a library that is not installed", try_next="Install asfound[live]."
            ) from None
        client: Any = ModbusTcpClient(
            self.map.host, port=self.map.port, timeout=self.map.timeout, retries=1, trace_pdu=only_reads
        )
        try:
            connected = client.connect()
        except Exception as error:
            connected, notes[:] = False, [*notes, f"{self._where}: {error}"]
        if not connected:
            client.close()
            self._lost(notes, f"{self._where} does not take a connection")
            return False
        self._client, self._wait = client, 0.0
        return True

    @property
    def _where(self) -> str:
        return f"{self.map.host}:{self.map.port}"

    def _lost(self, notes: list[str], why: str) -> None:
        notes.append(why)
        self.close()
        self._wait = min(_SLOWEST, max(1.0, 2 * self._wait))

    def _ask(self, table: str, address: int, count: int, notes: list[str]) -> tuple[list[int] | None, str]:
        """Return registers or bits of the map, or why there are none. Any other address is refused here."""
        if not set(range(address, address + count)) <= self.map.allowed(table):
            raise InputError("address", f"{table} {address}", "is not in the map of registers")
        if self._client is None:
            return None, "no connection"
        of_table = {
            "coil": self._client.read_coils, "discrete": self._client.read_discrete_inputs,
            "holding": self._client.read_holding_registers, "input": self._client.read_input_registers,
        }  # fmt: skip
        try:
            answer = of_table[table](address, count=count, device_id=self.map.device)
        except InputError:
            raise
        except Exception as error:  # the library's own errors, and those of the network below it
            self._lost(notes, f"{self._where}: {str(error)[:120]}")
            return None, "no answer"
        if answer.isError():
            code = int(getattr(answer, "exception_code", 0))
            return None, _REFUSALS.get(code, f"the device answers with error {code}")
        bits = answer.bits[:count] if table in ("coil", "discrete") else answer.registers
        if len(bits) < count:
            return None, "the answer is too short"
        return [int(one) for one in bits], ""

    def _value(self, one: Register, words: list[int] | None, why: str) -> tuple[float, str]:
        if words is None:
            return math.nan, why
        raw = one.raw(words)
        if not math.isfinite(raw):
            return math.nan, "no number"
        if raw in one.bad:
            return math.nan, f"{raw:g} stands for no value"
        value = raw * one.scale + one.add
        if one.quantity:
            scale, zero = scale_of(one.quantity, one.unit, self.map.barometer)
            value = value * scale + zero
        return value, ""

    def _look(self, found: dict[str, tuple[float, str]], notes: list[str]) -> Look:
        at = round(self.now() * 1e6)
        readings = tuple(
            LiveReading(
                channel=one.channel, value=found[one.name][0], time=at, name=one.name, why=found[one.name][1],
                origin=f"modbus://{self._where}/{self.map.device}/{one.table}/{one.address}",
            )
            for one in self.map.registers
        )  # fmt: skip
        said = {one.name: one.why for one in readings}
        changed = [f"{name}: {why}" for name, why in said.items() if why and self._last.get(name) != why]
        back = [f"{name}: answers again" for name, why in self._last.items() if why and not said.get(name)]
        self._last = said
        return Look(time=at, readings=readings, notes=(*notes, *changed, *back))
