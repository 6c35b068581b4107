"""The home: the folder in which a laptop keeps its record, its files, its settings and its clock."""

from __future__ import annotations

import contextlib
import json
import os
import re
import secrets
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Any, Literal, Protocol

from asfound.errors import InputError, RecordError
from asfound.history.disk import flush, put_in_place, sync_folder
from asfound.quantities import own_units
from asfound.quantities.own_units import SYSTEMS

DEFAULT_VARIABLE = "ASFOUND_HOME"


class Clock(Protocol):
    """What tells the time; tests and the demo bring their own."""

    def now(self) -> datetime:
        """Return the time now, with its offset."""
        ...


@dataclass(frozen=True, slots=True)
class HomeClock:
    """The clock of this computer, moved by a fixed amount in a demo home, told in the zone of the home."""

    offset: timedelta = timedelta(0)
    zone: tzinfo | None = None
    """None: the zone of this computer."""

    def now(self) -> datetime:
        """Return the time now, with its offset."""
        return (datetime.now(UTC) + self.offset).astimezone(self.zone)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What a person sets once for this home."""

    person: str = ""
    """Name written on entries."""
    device: str = ""
    """Identifier of this home; made once, never changed."""
    decimal: Literal["", ".", ","] = ""
    """Decimal sign that this person types; empty: both are taken, and what is ambiguous is asked."""
    units: Literal["site", "si", "bar", "us"] = "site"
    """``site``: as the people of the site do; ``bar``: SI with pressures in bar."""
    own_units: str = ""
    """Units chosen for kinds of quantities, before those of the system (``pressure:bar.gas:at_15``)."""
    language: Literal["", "en", "de", "es"] = ""
    """Of pages and reports; empty: what the browser asks for, English for a report."""
    numbers: Literal["", "point", "comma", "space_comma", "space_point"] = ""
    """Form that numbers are shown in; empty: as the language does."""
    dates: Literal["", "iso", "month_first"] = ""
    """Form of dates; empty: in words, as the language does."""
    paper: Literal["a4", "letter"] = "a4"
    """Sheet that papers are set on."""
    hand: Literal["right", "left"] = "right"
    light: Literal["", "day", "night", "sun"] = ""
    catalogue: str = ""
    """Folder of the company's catalogue, under the home or absolute; empty: the one that ships with the program."""
    clock_offset: float = 0.0
    """Of a demo home: seconds that its clock is ahead of this computer's."""
    zone: str = ""
    """Offset from UTC as ``+HH:MM``; empty: that of this computer."""
    demo: bool = False
    photo_time: Literal["keep", "strip"] = "keep"
    """Whether a photo keeps the time that its camera wrote; else that at which it was handed over."""
    photo_place: Literal["strip", "keep"] = "strip"
    """Whether a photo keeps the place that its camera wrote."""
    count_closed: bool = True
    """Whether closed cases of troubleshooting move the priors of the next one."""
    ahead: Literal["all", "shown", "off"] = "all"
    """Which visits are worked out before somebody opens them: all while the machine is idle, or what lists show."""
    kept_mb: int = 1_500
    """What may be kept beside the record of what was worked out; it can be made again. [MB]"""

    @property
    def typed_decimal(self) -> Literal["", ".", ","]:
        """Decimal sign of what this person types: as set, else that of the form of numbers that was chosen."""
        signs: dict[str, Literal["", ".", ","]] = {
            "point": ".", "comma": ",", "space_comma": ",", "space_point": ".",
        }  # fmt: skip
        return self.decimal or signs.get(self.numbers, "")


KEPT_MB = (50, 100_000)
"""Least and most that may be kept beside the record. [MB]"""
LONGEST = 400
"""As long as a name on an entry may be."""
FARTHEST = 1e10
"""How far the clock of a demo home may be from this computer's: three centuries. [s]"""
_ALLOWED: dict[str, tuple[str, ...]] = {
    "decimal": ("", ".", ","),
    "units": SYSTEMS,
    "language": ("", "en", "de", "es"),
    "numbers": ("", "point", "comma", "space_comma", "space_point"),
    "dates": ("", "iso", "month_first"),
    "paper": ("a4", "letter"),
    "hand": ("right", "left"),
    "light": ("", "day", "night", "sun"),
    "ahead": ("all", "shown", "off"),
    "photo_time": ("keep", "strip"),
    "photo_place": ("strip", "keep"),
}


def _check(name: str, value: object) -> None:
    """Refuse a value that a setting cannot have; whether it was typed now or stands in the file.

    Raises
    ------
    InputError
    """
    given = str(value)[:80]
    if name == "clock_offset":
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not -FARTHEST <= value <= FARTHEST:  # type: ignore[operator]
            raise InputError(name, given, "is no offset of a clock", allowed="-1e10 to 1e10 s")
    elif name == "kept_mb":
        if not isinstance(value, int) or isinstance(value, bool) or not KEPT_MB[0] <= value <= KEPT_MB[1]:
            allowed = f"{KEPT_MB[0]} to {KEPT_MB[1]:,} MB, a whole number"
            raise InputError(name, given, "is no size in MB", allowed=allowed)
    elif name in ("demo", "count_closed"):
        if not isinstance(value, bool):
            raise InputError(name, given, "is neither true nor false")
    elif not isinstance(value, str):
        raise InputError(name, given, "is no text")
    elif len(value) > LONGEST or not value.isprintable():
        raise InputError(name, given, "is no line of text", allowed=f"up to {LONGEST} signs that can be printed")
    elif name in _ALLOWED and value not in _ALLOWED[name]:
        raise InputError(name, given, "is not one of its values", allowed=", ".join(_ALLOWED[name]))
    elif name == "zone":
        zone_of(value)
    elif name == "own_units":
        own_units.chosen(value)


class Home:
    """A folder with ``record.sqlite``, ``files/``, ``settings.json`` and, once there is a key, ``seal.key``."""

    def __init__(self, folder: str | os.PathLike[str] | None = None) -> None:
        self.folder = Path(folder) if folder is not None else default_folder()
        self._settings: tuple[tuple[int, int, int], Settings] | None = None
        """As last read, with what tells whether the file has changed since."""

    @property
    def database(self) -> Path:
        """The file of the record."""
        return self.folder / "record.sqlite"

    @property
    def files(self) -> Path:
        """The folder of photos and files, by digest."""
        return self.folder / "files"

    @property
    def key(self) -> Path:
        """The private key that signs seals; need not exist."""
        return self.folder / "seal.key"

    @property
    def exists(self) -> bool:
        """Whether a record has been begun here."""
        return self.database.exists()

    def settings(self) -> Settings:
        """Return the settings; those of a new home where there are none yet.

        Raises
        ------
        RecordError
            The file cannot be read; names it.
        """
        path = self.folder / "settings.json"
        try:
            now = path.stat()
            stamp = (now.st_mtime_ns, now.st_size, now.st_ino)
            if self._settings is not None and self._settings[0] == stamp:
                return self._settings[1]
            stored = json.loads(path.read_text(encoding="utf-8"))
            if not isinstance(stored, dict):
                raise ValueError("it is no list of names with values")
            known = {name: stored[name] for name in Settings.__dataclass_fields__ if name in stored}
            for name, value in known.items():
                _check(name, value)
            self._settings = (stamp, Settings(**known))
            return self._settings[1]
        except FileNotFoundError:
            return Settings()
        except (OSError, ValueError, RecursionError) as fault:
            raise RecordError(
                f"The settings in {path} cannot be read ({fault}). Put the file right, or move it away: the record "
                "itself is not touched by it, and new settings will be made."
            ) from fault

    def change(self, **changes: Any) -> Settings:
        """Keep changed settings and return all.

        Raises
        ------
        InputError
            No such setting, or a value that it cannot have.
        """
        for name, value in changes.items():
            if name not in Settings.__dataclass_fields__:
                raise InputError(name, str(value), "is no setting", allowed=", ".join(Settings.__dataclass_fields__))
            _check(name, value)
        settings = replace(self.settings(), **changes)
        if not settings.device:
            settings = replace(settings, device=secrets.token_hex(6))
        self.folder.mkdir(parents=True, exist_ok=True)
        write_durably(self.folder / "settings.json", json.dumps(asdict(settings), indent=1).encode())
        return settings

    def clock(self) -> HomeClock:
        """Return the clock of this home."""
        settings = self.settings()
        return HomeClock(timedelta(seconds=settings.clock_offset), zone_of(settings.zone))


def default_folder() -> Path:
    """Return the folder named by ASFOUND_HOME, else the usual one of this system for a program's data."""
    named = os.environ.get(DEFAULT_VARIABLE)
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_data_dir("asfound", appauthor=False))


def zone_of(text: str) -> tzinfo | None:
    """Return the zone of an offset such as ``-06:00``; None for an empty text."""
    if not text:
        return None
    match = re.fullmatch(r"([+-])([0-9]{2}):([0-9]{2})", text)
    if match is None or int(match[2]) > 14 or int(match[3]) > 59:
        raise InputError("zone", text, "is no offset from UTC", allowed="-14:00 to +14:00", try_next="Write -06:00.")
    minutes = int(match[2]) * 60 + int(match[3])
    return timezone(timedelta(minutes=-minutes if match[1] == "-" else minutes))


def write_durably(path: Path, data: bytes) -> None:
    """Put bytes at ``path`` so that after a power cut there is either all of them or what was there before."""
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        with open(temporary, "xb") as out:
            out.write(data)
            out.flush()
            flush(out.fileno())
        put_in_place(temporary, path)
    except OSError as fault:
        with contextlib.suppress(OSError):  # on a disk that may only be read nothing can be removed either
            temporary.unlink(missing_ok=True)
        raise RecordError(f"{path} cannot be written: {fault.strerror}. Nothing was kept. {advice(fault)}") from fault
    sync_folder(path.parent)


def advice(fault: OSError) -> str:
    """Say what to do about a fault of the disk."""
    import errno

    if fault.errno in (errno.ENOSPC, errno.EDQUOT):
        return "The disk is full: make room, then keep it again."
    if fault.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return "The folder may only be read: give yourself the right to write, or name another home."
    return "Look at the disk, then keep it again."
