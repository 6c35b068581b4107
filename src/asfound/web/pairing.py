"""Letting a tablet in: the one-time code, the devices, and what the laptop's page shows of both."""

from __future__ import annotations

import hmac
import re
import secrets
import threading
import time
from typing import TYPE_CHECKING

from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from asfound.records.devices import Device, Devices
    from asfound.web.authority import Authority

SIGNS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""Without 0, 1, I, L, O: what is read off a screen and typed on another."""
LENGTH = 12
"""Signs of a code: 59 bits; with ten guesses allowed, none is found by guessing."""
LASTS = 600.0
"""How long a code may be used. [s]"""
GUESSES = 10


class Sharing:
    """What the laptop's door for tablets knows: where it is, who vouches for it, who may come in."""

    def __init__(
        self,
        address: str,
        authority: Authority,
        devices: Devices,
        *,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        self.address, self.authority, self.devices = address, authority, devices
        """``address`` ends without a slash: ``https://192.168.1.20:8790``."""
        self._now, self._lock = now, threading.Lock()
        self._code, self._until, self._wrong = "", 0.0, 0

    @property
    def code(self) -> str:
        """The code that lets one device in; empty where none is open."""
        with self._lock:
            return self._code if self._code and self._now() < self._until else ""

    @property
    def minutes_left(self) -> int:
        """How long the code may still be used, rounded up. [min]"""
        return max(0, -int(-(self._until - self._now()) // 60)) if self.code else 0

    def new_code(self) -> str:
        """Make a code; an older one is worth nothing from now on."""
        with self._lock:
            self._code = "".join(secrets.choice(SIGNS) for _ in range(LENGTH))
            self._until, self._wrong = self._now() + LASTS, 0
            return self._code

    def let_in(self, code: str, name: str, person: str = "") -> tuple[Device, str]:
        """Let one device in for the code, which is then used up.

        Raises
        ------
        InputError
            The code is wrong, used, or too old; or a name cannot be.
        """
        given = "".join(sign for sign in code.upper() if sign.isalnum())
        with self._lock:
            open_ = self._code if self._now() < self._until else ""
            if not open_:
                raise InputError(
                    "code", code[:20], "is used or too old", try_next="Make a new one on the laptop: Let a tablet in."
                )
            if not hmac.compare_digest(given.encode(), open_.encode()):
                self._wrong += 1
                if self._wrong >= GUESSES:
                    self._code = ""
                raise InputError(
                    "code", code[:20], "is not the one on the laptop", try_next="Look at the laptop again."
                )
            made = self.devices.let_in(name, person)
            self._code = ""
            return made

    @property
    def pairing_address(self) -> str:
        """What the code's picture holds. The code stands behind ``#``: a browser shows it to no server by itself."""
        return f"{self.address}/pair#{self.code}"


def spaced(code: str) -> str:
    """Return a code in groups of four.

    >>> spaced("ABCDEFGHJKLM")
    'ABCD EFGH JKLM'
    """
    return " ".join(code[n : n + 4] for n in range(0, len(code), 4))


def picture(text: str) -> str:
    """Return a QR code as SVG for a page; empty where the library is not installed."""
    try:
        import zxingcpp
    except ImportError:
        return ""
    drawn = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode, ec_level="M").to_svg(add_quiet_zones=True)
    side, shape = re.search(r'width="(\d+)"', drawn), re.search(r'<path d="([MHVZmhvz0-9 -]+)"', drawn)
    if side is None or shape is None:
        return ""
    return (
        f'<svg class="qr" viewBox="0 0 {side[1]} {side[1]}" role="img" '
        'aria-label="The address and the code, to point a camera at">'
        f'<path class="qr-ground" d="M0 0H{side[1]}V{side[1]}H0Z"/><path class="qr-ink" d="{shape[1]}"/></svg>'
    )
