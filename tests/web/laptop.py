"""A laptop that shares its pages, and can be gone and come back at the same address; and a tablet's browser."""

from __future__ import annotations

import base64
import contextlib
import hashlib
from pathlib import Path

from playwright.sync_api import BrowserContext, Playwright

from asfound.records.store import Records
from asfound.web.app import create_app
from asfound.web.authority import authority
from asfound.web.pairing import Sharing
from asfound.web.serve import bound, make_sharing, open_door

from ..conftest import CHROMIUM, FLAGS

TABLET = {"width": 834, "height": 1112}


class Laptop:
    """One home behind the door for tablets."""

    def __init__(self, home: Path) -> None:
        self.home, self.port = home, 0
        self.stack = contextlib.ExitStack()
        self.records: Records
        self.sharing: Sharing

    def start(self) -> Laptop:
        """Open the door; the second time at the address of the first."""
        self.records = self.stack.enter_context(Records.open(self.home))
        listening = self.stack.enter_context(bound("127.0.0.1", self.port, 0))
        self.port = listening.getsockname()[1]
        self.sharing = make_sharing(self.records, "127.0.0.1", self.port)
        own = create_app(self.records, who="laptop", share=self.sharing)
        self.stack.enter_context(open_door(self.records, own, self.sharing, listening, who="laptop"))
        return self

    def stop(self) -> None:
        """Be gone: nobody answers at the address any more."""
        self.stack.close()

    @property
    def trusted(self) -> str:
        """What Chromium takes for a trusted authority: SHA-256 of its public key."""
        from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

        key = authority(self.home).certificate.public_key()
        spki = key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
        return base64.b64encode(hashlib.sha256(spki).digest()).decode()


def tablet(playwright: Playwright, profile: Path, laptop: Laptop, **more: object) -> BrowserContext:
    """Open the tablet's browser; what it keeps lies in ``profile`` and is there again the next time."""
    return playwright.chromium.launch_persistent_context(
        str(profile),
        executable_path=CHROMIUM,
        args=[*FLAGS, f"--ignore-certificate-errors-spki-list={laptop.trusted}"],
        **{"viewport": TABLET, "has_touch": True, **more},  # type: ignore[arg-type]
    )
