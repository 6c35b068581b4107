"""The map of registers that may be read on a site's network: a YAML file, and the only addresses ever asked for.

host: 192.168.10.20
device: 1                # unit number of the device
period: 5                # seconds between readings
words: high_first        # order of the words of a number that takes several
barometer: 101325        # Pa; gauge pressures are counted from it
registers:
  - {name: Oil pressure, table: input, address: 100, type: uint16, scale: 0.1, unit: bar g, quantity: oil_pressure}
  - {name: Power, table: holding, address: 200, type: float32, unit: kW, quantity: engine_power, bad: [-9999]}
  - {name: Running, table: discrete, address: 3}
"""

from __future__ import annotations

import ipaddress
import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from asfound.errors import InputError, KnowledgeError
from asfound.history.channels import RAW, channel
from asfound.history.mapping import scale_of
from asfound.quantities.constants import ATMOSPHERE

FUNCTIONS = {"coil": 1, "discrete": 2, "holding": 3, "input": 4}
"""Tables, and the function that reads each (Modbus Application Protocol V1.1b3, 6.1 to 6.4). No other is sent."""
TYPES = {
    "int16": ("h", 1), "uint16": ("H", 1), "int32": ("i", 2), "uint32": ("I", 2), "float32": ("f", 2),
    "int64": ("q", 4), "uint64": ("Q", 4), "float64": ("d", 4), "bit": ("", 1),
}  # fmt: skip
MOST_REGISTERS, MOST_BITS = 125, 2000
_FIELDS = ("name", "table", "address", "type", "bit", "words", "scale", "add", "unit", "quantity", "place", "bad")
_TOP = ("host", "port", "device", "period", "words", "barometer", "timeout", "source", "registers")


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """One value: where it stands, how it is written, and what it is."""

    name: str
    table: str = "holding"
    address: int = 0
    """As the protocol counts, from 0 (40001 of a manual is holding 0)."""
    type: str = "uint16"
    bit: int | None = None
    """One bit of a register, 0 the lowest."""
    words: str = "high_first"
    scale: float = 1.0
    add: float = 0.0
    """Value in ``unit`` = raw * scale + add."""
    unit: str = ""
    quantity: str = ""
    place: str = "engine"
    bad: tuple[float, ...] = ()
    """Raw numbers that stand for 'no value'."""

    @property
    def size(self) -> int:
        """Registers (or bits) that it takes."""
        return 1 if self.table in ("coil", "discrete") or self.bit is not None else TYPES[self.type][1]

    @property
    def channel(self) -> str:
        """The channel that it goes into."""
        return channel(self.quantity, self.place) if self.quantity else channel(RAW + self.name, self.place)

    def raw(self, words: Sequence[int]) -> float:
        """Return the number that registers hold."""
        if self.table in ("coil", "discrete"):
            return float(bool(words[0]))
        if self.bit is not None:
            return float(words[0] >> self.bit & 1)
        ordered = words if self.words == "high_first" else list(reversed(words))
        packed = struct.pack(f">{len(ordered)}H", *ordered)
        return float(struct.unpack(">" + TYPES[self.type][0], packed)[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterMap:
    """A device on the site's network, and all that may be read from it."""

    host: str
    port: int = 502
    device: int = 1
    period: float = 5.0
    timeout: float = 3.0
    barometer: float = ATMOSPHERE
    source: str = ""
    registers: tuple[Register, ...] = field(default=())

    def allowed(self, table: str) -> frozenset[int]:
        """Return every address of a table that may be asked for."""
        return frozenset(
            at for one in self.registers if one.table == table for at in range(one.address, one.address + one.size)
        )

    def requests(self) -> tuple[tuple[str, int, int], ...]:
        """Return table, first address and count of what is asked for: neighbours at once, never an address between."""
        found: list[tuple[str, int, int]] = []
        for table in FUNCTIONS:
            most = MOST_BITS if table in ("coil", "discrete") else MOST_REGISTERS
            for one in sorted((r for r in self.registers if r.table == table), key=lambda r: r.address):
                last = found[-1] if found and found[-1][0] == table else None
                end = one.address + one.size
                if last and one.address <= last[1] + last[2] and end - last[1] <= most:
                    found[-1] = (table, last[1], max(last[2], end - last[1]))
                else:
                    found.append((table, one.address, one.size))
        return tuple(found)


def load_map(path: Path) -> RegisterMap:
    """Return the map that a YAML file holds; KnowledgeError says what is wrong in it."""
    import yaml

    from asfound.sources.yaml_plain import load_plain

    try:
        found = load_plain(path)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        raise KnowledgeError(path.name, (mark.line if mark else 0) + 1, 1, "this is no YAML.") from error
    if not isinstance(found, dict):
        raise KnowledgeError(path.name, 1, 1, "the file is no map of registers.", allowed=", ".join(_TOP))
    return map_of(found)


def map_of(given: Mapping[str, Any]) -> RegisterMap:
    """Return the map of plain data.

    Raises
    ------
    InputError
        A field is unknown or cannot be; the host is not on a site's own network.
    """
    for name in given:
        if name not in _TOP:
            raise InputError("map", str(name), "is no field of a map of registers", allowed=", ".join(_TOP))
    host = str(given.get("host", ""))
    _on_site(host)
    words = _one_of("words", given.get("words", "high_first"), ("high_first", "low_first"))
    registers = tuple(_register(one, words) for one in given.get("registers", ()))
    if not registers:
        raise InputError("registers", "", "are none", try_next="List each address that may be read.")
    seen: dict[str, str] = {}
    for one in registers:
        if one.channel in seen:
            raise InputError(one.name, one.channel, f"is also the channel of '{seen[one.channel]}'")
        seen[one.channel] = one.name
        if one.quantity:
            scale_of(one.quantity, one.unit, float(given.get("barometer", ATMOSPHERE)))
    found = RegisterMap(
        host=host, port=_whole("port", given.get("port", 502), 1, 65535),
        device=_whole("device", given.get("device", 1), 0, 255),
        period=float(given.get("period", 5.0)), timeout=float(given.get("timeout", 3.0)),
        barometer=float(given.get("barometer", ATMOSPHERE)), source=str(given.get("source", "")),
        registers=registers,
    )  # fmt: skip
    if not 0.2 <= found.period <= 86400:
        raise InputError("period", f"{found.period:g}", "is no time between readings", allowed="0.2 to 86,400 s",
                         try_next="A panel has other work: ask it no more often than the number changes.")  # fmt: skip
    return found


def _register(given: Mapping[str, Any], words: str) -> Register:
    for name in given:
        if name not in _FIELDS:
            raise InputError(str(given.get("name", "register")), str(name), "is no field of a register",
                             allowed=", ".join(_FIELDS))  # fmt: skip
    name = str(given.get("name", "")) or f"register {given.get('address')}"
    table = _one_of(name, given.get("table", "holding"), tuple(FUNCTIONS))
    kind = _one_of(name, given.get("type", "bit" if table in ("coil", "discrete") else "uint16"), tuple(TYPES))
    bit = given.get("bit")
    if kind == "bit" and table in ("holding", "input") and bit is None:
        raise InputError(name, kind, "does not say which bit", allowed="bit: 0 to 15")
    one = Register(
        name=name, table=table, address=_whole(name, given.get("address"), 0, 65535), type=kind,
        bit=None if bit is None else _whole(name, bit, 0, 15),
        words=_one_of(name, given.get("words", words), ("high_first", "low_first")),
        scale=float(given.get("scale", 1.0)), add=float(given.get("add", 0.0)), unit=str(given.get("unit", "")),
        quantity=str(given.get("quantity", "")), place=str(given.get("place", "engine")),
        bad=tuple(float(raw) for raw in given.get("bad", ())),
    )  # fmt: skip
    if one.address + one.size > 65536:
        raise InputError(name, str(one.address), "goes beyond the last register", allowed="0 to 65535")
    return one


def _on_site(host: str) -> None:
    """Refuse a host that is not on a network of the site's own."""
    if not host:
        raise InputError("host", "", "is not told", try_next="Give the address of the panel on the site's network.")
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        local = "." not in host or host.rsplit(".", 1)[-1].lower() in ("local", "lan", "internal", "home")
        if local:
            return
        raise InputError("host", host, "is a name of the public network", allowed="an address of the site's network",
                         ) from None  # fmt: skip
    if not (address.is_private or address.is_loopback or address.is_link_local):
        raise InputError(
            "host", host, "is an address of the public network", allowed="an address of the site's network"
        )


def _one_of(field: str, given: object, allowed: tuple[str, ...]) -> str:
    if str(given) not in allowed:
        raise InputError(field, str(given), "cannot stand there", allowed=", ".join(allowed))
    return str(given)


def _whole(field: str, given: object, low: int, high: int) -> int:
    try:
        number = int(str(given))
    except ValueError:
        number = low - 1
    if not low <= number <= high or isinstance(given, bool):
        raise InputError(field, str(given), "is no number that can stand there", allowed=f"{low} to {high}")
    return number
