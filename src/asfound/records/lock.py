"""The lock of a home: with it, whoever takes the disk, the stick or a backup reads nothing without the passphrase.

A home is locked when it holds ``lock.json``. A random key of 32 bytes opens all of it; the passphrase opens that
key. From the passphrase comes a key by scrypt (RFC 7914), which wraps the random one by AES-256-GCM (SP 800-38D);
from the random one come, by HKDF (RFC 5869), a key for each use: the database (SQLCipher: AES-256 in pages, each with
its HMAC), the names and the contents of photos and files, the logs, the private keys. Keys lie in memory only.

The libraries are those of others: ``sqlcipher3`` and ``cryptography`` (extra ``lock``).
"""

from __future__ import annotations

import atexit
import base64
import json
import os
import secrets
import shutil
import tempfile
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.errors import InputError, RecordError
from asfound.records.home import write_durably

if TYPE_CHECKING:
    from collections.abc import Callable

    from asfound.records.home import Home

FORM = "asfound lock 1"
FILE = "lock.json"
VARIABLE = "ASFOUND_PASSPHRASE_FILE"
"""Names a file whose first line is the passphrase: for what runs with nobody there."""
SHORTEST = 10
"""A passphrase is guessed as fast as its length allows; four words are better than ten signs. [character]"""
LONGEST = 1024
COST = 2**17
"""N of scrypt, with r = 8, p = 1: 128 MB and about half a second for each guess."""
MOST_COST = 2**20
MAGIC = b"asfound locked 1\n"
NEEDS = "A locked home needs the libraries of the extra 'lock': pip install 'asfound[lock]'."
FORGOTTEN = (
    "Nobody can open a locked home without its passphrase, and there is no second key. What may still hold the "
    "entries: a backup or a bundle from before it was locked, another laptop, the office's record."
)


@dataclass(frozen=True, slots=True)
class FileCipher:
    """Enciphers whole files with one key: AES-256-GCM, a random nonce each, after a mark that tells what it is."""

    key: bytes

    def close(self, plain: bytes) -> bytes:
        """Return bytes that only the key opens."""
        nonce = secrets.token_bytes(12)
        closed: bytes = _library().AESGCM(self.key).encrypt(nonce, plain, MAGIC)
        return MAGIC + nonce + closed

    def open(self, closed: bytes, what: str = "") -> bytes:
        """Return what was closed.

        Raises
        ------
        RecordError
            It was changed, or closed with another key.
        """
        from cryptography.exceptions import InvalidTag

        start = len(MAGIC) + 12
        try:
            if not closed.startswith(MAGIC):
                raise InvalidTag
            opened: bytes = _library().AESGCM(self.key).decrypt(closed[len(MAGIC) : start], closed[start:], MAGIC)
        except InvalidTag as fault:
            raise RecordError(
                f"{what or 'A file'} does not open: it was changed, or belongs to another home. Keep a copy, then "
                "fetch a backup."
            ) from fault
        return opened

    def __repr__(self) -> str:
        return "FileCipher(...)"  # a key must not stand in a message


class Keys:
    """What opens one locked home."""

    def __init__(self, identifier: str, root: bytes) -> None:
        self.id, self._root = identifier, root
        self.logs = FileCipher(self.of("logs"))
        self.contents = FileCipher(self.of("files"))
        self.secrets = FileCipher(self.of("private keys"))
        self._names = self.of("names", 64)

    def of(self, use: str, length: int = 32) -> bytes:
        """Return the key of one use."""
        from cryptography.hazmat.primitives.hashes import SHA256
        from cryptography.hazmat.primitives.kdf.hkdf import HKDF

        made: bytes = HKDF(SHA256(), length, None, f"{FORM}: {use}".encode()).derive(self._root)
        return made

    @property
    def database(self) -> str:
        """The key of the database, as the pragma of SQLCipher takes it."""
        return f"x'{self.of('database').hex()}'"

    def name_of(self, digest: str) -> str:
        """Return the name under which the content of a digest lies: always the same, and it tells nothing."""
        return _library().AESSIV(self._names).encrypt(bytes.fromhex(digest), None).hex()  # type: ignore[no-any-return]

    def digest_of(self, name: str) -> str | None:
        """Return the digest of a name; None for a name that is none."""
        from cryptography.exceptions import InvalidTag

        try:
            return str(_library().AESSIV(self._names).decrypt(bytes.fromhex(name), None).hex())
        except (InvalidTag, ValueError):
            return None

    def __reduce__(self) -> tuple[Any, ...]:
        return Keys, (self.id, self._root)


_known: dict[str, Keys] = {}
_passing: dict[Path, Path] = {}
_guard = threading.RLock()
_ask: Callable[[Path], str] | None = None


def ask_with(ask: Callable[[Path], str] | None) -> None:
    """Say who asks a person for the passphrase of a home; None: nobody does."""
    global _ask
    _ask = ask


def is_locked(folder: Path) -> bool:
    """Tell whether a folder is a locked home, or a backup of one."""
    return (folder / FILE).is_file()


def keys_of(folder: Path, passphrase: str | None = None) -> Keys | None:
    """Return what opens a home; None for one that is not locked. Asked once in a process.

    The passphrase comes from the caller, else from the file that ASFOUND_PASSPHRASE_FILE names, else from the person
    at the terminal.

    Raises
    ------
    RecordError
        It does not open the home, there is nobody to ask, or a library is missing.
    """
    if not is_locked(folder):
        return None
    lock = read_lock(folder)
    with _guard:
        keys = _known.get(lock["id"])
        if keys is None or passphrase is not None:
            keys = _opened(folder, lock, passphrase if passphrase is not None else _passphrase(folder))
            _known[keys.id] = keys
    _hold(folder, keys)
    return keys


def forget(folder: Path | None = None) -> None:
    """Let go of the keys of a home, or of all; who opens it again is asked again."""
    from asfound.history.locked import given, lock_folder

    with _guard:
        gone = [read_lock(folder)["id"]] if folder is not None else list(_known)
        for one in gone:
            _known.pop(one, None)
    for place in given():
        if folder is None or folder.absolute() in (place, *place.parents):
            lock_folder(place, None)


def held() -> dict[str, Keys]:
    """Return the keys of this process, to hand to another through a pipe (``take_over``)."""
    return dict(_known)


def take_over(keys: dict[str, Keys]) -> None:
    """Let the keys of another process open the same homes in this one."""
    with _guard:
        _known.update(keys)


def make_lock(passphrase: str, *, root: bytes | None = None, cost: int = COST) -> tuple[bytes, Keys]:
    """Return the content of ``lock.json`` for a passphrase, and the keys; ``root``: go on with the key of a home.

    Raises
    ------
    InputError
        The passphrase is too short or too long.
    """
    check_passphrase(passphrase)
    library, root, salt, nonce = (
        _library(),
        root or secrets.token_bytes(32),
        secrets.token_bytes(16),
        secrets.token_bytes(12),
    )
    lock: dict[str, Any] = {
        "form": FORM, "id": secrets.token_hex(16), "scrypt": {"n": cost, "r": 8, "p": 1, "salt": _text(salt)},
        "nonce": _text(nonce),
    }  # fmt: skip
    wrapped = library.AESGCM(stretched(passphrase, lock)).encrypt(nonce, root, _bound(lock))
    lock["key"] = _text(wrapped)
    return json.dumps(lock, indent=1).encode(), Keys(lock["id"], root)


def change_passphrase(home: Home, old: str, new: str) -> None:
    """Give a locked home another passphrase; nothing else of it is written anew.

    Raises
    ------
    RecordError
        The old passphrase does not open it.
    """
    lock = read_lock(home.folder)
    keys = _opened(home.folder, lock, old)
    data, made = make_lock(new, root=keys._root, cost=int(lock["scrypt"]["n"]))
    write_durably(home.folder / FILE, data)
    with _guard:
        _known.pop(keys.id, None)
        _known[made.id] = made
    _hold(home.folder, made)


def check_passphrase(passphrase: str) -> str:
    """Return a passphrase that may be set.

    Raises
    ------
    InputError
    """
    if not SHORTEST <= len(passphrase) <= LONGEST or not passphrase.isprintable():
        raise InputError(
            "passphrase", "(not shown)", "cannot be used", allowed=f"{SHORTEST} to {LONGEST} signs that can be printed",
            try_next="Take four or five words that nobody guesses; write them down where the laptop is not.",
        )  # fmt: skip
    return passphrase


def read_lock(folder: Path) -> dict[str, Any]:
    """Return ``lock.json`` of a home.

    Raises
    ------
    RecordError
        It cannot be read.
    """
    path = folder / FILE
    try:
        lock: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        cost = lock["scrypt"]
        if (lock["form"], cost["r"], cost["p"]) != (FORM, 8, 1) or not 2 <= int(cost["n"]) <= MOST_COST:
            raise ValueError("it is of another form")
        for given in (lock["nonce"], lock["key"], cost["salt"]):
            base64.b64decode(given, validate=True)
        if not isinstance(lock["id"], str):
            raise TypeError("its identifier is none")
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as fault:
        raise RecordError(
            f"{path} cannot be read ({fault}). It holds the key of this home: fetch it from a backup of the locked "
            "home; any backup made since the passphrase was set has the right one."
        ) from fault
    return lock


def passphrase_from_file(path: str) -> str:
    """Return the passphrase that stands in the first line of a file.

    Raises
    ------
    RecordError
        The file cannot be read, or is empty.
    """
    try:
        with open(path, encoding="utf-8") as file:
            word = file.readline(LONGEST + 2).rstrip("\r\n")
    except (OSError, ValueError) as fault:
        raise RecordError(f"The passphrase cannot be read from {path} ({fault}).") from fault
    if not word:
        raise RecordError(f"{path} is empty; its first line should be the passphrase.")
    return word


def protect(folder: Path, data: bytes) -> bytes:
    """Return the bytes of a private key as they go into a home: closed where it is locked."""
    keys = keys_of(folder)
    return data if keys is None else keys.secrets.close(data)


def reveal(folder: Path, data: bytes, what: str) -> bytes:
    """Return the bytes of a private key as they came from a home."""
    keys = keys_of(folder)
    return data if keys is None else keys.secrets.open(data, what)


def _passphrase(folder: Path) -> str:
    named = os.environ.get(VARIABLE)
    if named:
        return passphrase_from_file(named)
    if _ask is None:
        raise RecordError(
            f"The home {folder} is locked. Give its passphrase: at a terminal it is asked for; a program gives "
            f"Records.open(folder, passphrase=...); with nobody there, {VARIABLE} names a file that holds it."
        )
    return _ask(folder)


def _opened(folder: Path, lock: dict[str, Any], passphrase: str) -> Keys:
    from cryptography.exceptions import InvalidTag

    library = _library()
    if not passphrase or len(passphrase) > LONGEST:
        raise RecordError(f"This passphrase does not open {folder}. {FORGOTTEN}")
    try:
        wrapped, nonce = base64.b64decode(lock["key"]), base64.b64decode(lock["nonce"])
        root = library.AESGCM(stretched(passphrase, lock)).decrypt(nonce, wrapped, _bound(lock))
    except (InvalidTag, ValueError) as fault:
        raise RecordError(f"This passphrase does not open {folder}. {FORGOTTEN}") from fault
    return Keys(lock["id"], root)


def _hold(folder: Path, keys: Keys) -> None:
    """Let what reads and writes logs know the key."""
    from asfound.history.locked import lock_folder

    lock_folder(folder, keys.logs)


def aes_gcm(key: bytes) -> Any:
    """Return AES-GCM with a key.

    Raises
    ------
    RecordError
        The library is missing.
    """
    return _library().AESGCM(key)


def passing_folder(folder: Path) -> Path:
    """Return where a home keeps what is only passing, such as a log that is being taken in.

    Of a locked home it is a folder of this process, in memory where the system has one there (Linux), and goes with it.
    """
    if not is_locked(folder):
        return folder
    with _guard:
        if folder not in _passing:
            memory = Path("/dev/shm")
            made = tempfile.mkdtemp(prefix="asfound-", dir=memory if os.access(memory, os.W_OK) else None)
            atexit.register(shutil.rmtree, made, ignore_errors=True)
            _passing[folder] = Path(made)
        return _passing[folder]


def passing_in(folder: Path) -> str | None:
    """Return where passing files of a home may lie, for ``tempfile``; None: where the system has them."""
    return str(passing_folder(folder)) if is_locked(folder) else None


def stretched(passphrase: str, lock: dict[str, Any]) -> bytes:
    """Return the key that comes of a passphrase by scrypt with the cost and salt that ``lock`` tells."""
    import hashlib
    import unicodedata

    cost, word = lock["scrypt"], unicodedata.normalize("NFKC", passphrase).encode()
    n = int(cost["n"])
    return hashlib.scrypt(
        word, salt=base64.b64decode(cost["salt"]), n=n, r=8, p=1, maxmem=128 * 8 * n + (1 << 20), dklen=32
    )


def _bound(lock: dict[str, Any]) -> bytes:
    """Return what the wrapped key is bound to: everything else in the file."""
    return json.dumps([lock["form"], lock["id"], lock["scrypt"]], sort_keys=True).encode()


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode()


def _library() -> Any:
    try:
        from cryptography.hazmat.primitives.ciphers import aead
    except ImportError as missing:
        raise RecordError(NEEDS) from missing
    return aead


def cipher_driver() -> Any:
    """Return the driver of an enciphered database.

    Raises
    ------
    RecordError
        The library is missing.
    """
    try:
        from sqlcipher3 import dbapi2
    except ImportError as missing:
        raise RecordError(NEEDS) from missing
    return dbapi2
