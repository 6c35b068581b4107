"""Tablets and phones that were let in: a name, the digest of their token, when they were last seen.

The token itself is 32 random bytes, handed to the device once; here only its SHA-256 is kept, so that who reads the
file gets in nowhere. The list belongs to the laptop, not to the record: it is in no bundle and no export.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
import threading
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from asfound.errors import InputError, RecordError, UnknownNameError
from asfound.records.home import write_durably

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

LONGEST_NAME = 60
MOST_DEVICES = 200
SEEN_EVERY = timedelta(minutes=1)
"""How often a sign of life is written to the disk; what is newer is lost with the program."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """One tablet or phone."""

    id: str
    name: str
    person: str = ""
    """Who works on it; written on what it sends. Empty: the person of this home."""
    digest: str
    """SHA-256 of its token, in hexadecimal."""
    let_in: str
    seen: str
    withdrawn: str = ""
    """When it was shut out again; empty: it may come in."""


def _now() -> datetime:
    return datetime.now(UTC)


class Devices:
    """The list in one home; safe for several threads, and read anew when another program changed it."""

    def __init__(self, folder: Path, now: Callable[[], datetime] = _now) -> None:
        self.path = folder / "sharing" / "devices.json"
        self._now, self._lock = now, threading.RLock()
        self._known: dict[str, Device] = {}
        self._stamp: tuple[int, int] | None = None

    def all(self) -> tuple[Device, ...]:
        """Return every device, also those shut out, in the order in which they came."""
        with self._lock:
            self._read()
            return tuple(self._known.values())

    def let_in(self, name: str, person: str = "") -> tuple[Device, str]:
        """Let a device in and return it with its token, which is shown nowhere again.

        Raises
        ------
        InputError
            A name is no line of text, or there are too many devices.
        """
        name, person = name.strip() or "a tablet", person.strip()
        for field, given in (("name", name), ("person", person)):
            if len(given) > LONGEST_NAME or not given.isprintable():
                raise InputError(field, given[:40], "is no short line of text", allowed=f"up to {LONGEST_NAME} signs")
        with self._lock:
            self._read()
            if len(self._known) >= MOST_DEVICES:
                raise InputError("device", name, "is one too many", allowed=f"up to {MOST_DEVICES}")
            token = secrets.token_urlsafe(32)
            at = self._now().isoformat(timespec="seconds")
            made = Device(id=secrets.token_hex(4), name=name, person=person, digest=_digest(token), let_in=at, seen=at)
            self._known[made.id] = made
            self._write()
        return made, token

    def of_token(self, token: str) -> Device | None:
        """Return the device that bears a token, and note that it was seen; None for an unknown or withdrawn one."""
        digest = _digest(token)
        with self._lock:
            self._read()
            found = None
            for one in self._known.values():  # all of them, in the same time whichever it is
                if hmac.compare_digest(one.digest, digest) and not one.withdrawn:
                    found = one
            if found is None:
                return None
            now = self._now()
            if now - datetime.fromisoformat(found.seen) >= SEEN_EVERY:
                found = replace(found, seen=now.isoformat(timespec="seconds"))
                self._known[found.id] = found
                self._write()
            return found

    def withdraw(self, which: str) -> Device:
        """Shut a device out, by its identifier or its name; its token is worth nothing from now on.

        Raises
        ------
        UnknownNameError
            There is no such device that may come in.
        """
        with self._lock:
            self._read()
            open_ = [one for one in self._known.values() if not one.withdrawn]
            found = [one for one in open_ if which in (one.id, one.name)]
            if len(found) != 1:
                raise UnknownNameError("device", which, [one.id for one in (found or open_)])
            gone = replace(found[0], withdrawn=self._now().isoformat(timespec="seconds"))
            self._known[gone.id] = gone
            self._write()
            return gone

    def _read(self) -> None:
        try:
            stat = self.path.stat()
            if (stamp := (stat.st_mtime_ns, stat.st_ino)) == self._stamp:
                return
            listed = json.loads(self.path.read_text(encoding="utf-8"))
            self._known = {one["id"]: Device(**one) for one in listed}
            self._stamp = stamp
        except FileNotFoundError:
            self._known, self._stamp = {}, None
        except (OSError, ValueError, TypeError, KeyError) as fault:
            raise RecordError(
                f"The list of devices in {self.path} cannot be read ({fault}). No device is let in until it is put "
                "right; moving it away shuts all of them out, and the record itself is not touched by it."
            ) from fault

    def _write(self) -> None:
        self.path.parent.mkdir(parents=True, exist_ok=True)
        write_durably(self.path, json.dumps([asdict(one) for one in self._known.values()], indent=1).encode())
        self.path.chmod(0o600)
        stat = self.path.stat()
        self._stamp = (stat.st_mtime_ns, stat.st_ino)


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
