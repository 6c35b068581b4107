"""A bundle that only a passphrase opens: for a file that goes by mail, or by a stick that may get lost.

Form ``asfound locked bundle 1``: one line of JSON (form, scrypt with its salt, prefix of the nonces, bytes of a part),
then the parts, each AES-256-GCM with its tag. The nonce of a part is the prefix, its number, and whether it is the
last, so that parts can be neither dropped, swapped nor added without being noticed; the line itself is bound into each
part. Inside is a bundle as ``bundle.write_bundle`` writes it. What its digest tells (``bundle.py``) is told of the
bundle inside.
"""

from __future__ import annotations

import base64
import json
import secrets
from typing import IO, Any

from asfound.errors import InputError, RecordError
from asfound.records import lock

FORM = "asfound locked bundle 1"
PART = 1 << 20
TAG = 16
LONGEST_HEAD = 1000
_START = b'{"form":"asfound locked bundle'


def is_locked(file: IO[bytes]) -> bool:
    """Tell whether a file is a locked bundle; it stands at its beginning afterwards."""
    file.seek(0)
    found = file.read(len(_START)) == _START
    file.seek(0)
    return found


def lock_bundle(plain: IO[bytes], out: IO[bytes], passphrase: str) -> None:
    """Write a bundle closed with a passphrase.

    Raises
    ------
    InputError
        The passphrase is too short.
    RecordError
        The library is missing.
    """
    lock.check_passphrase(passphrase)
    head: dict[str, Any] = {
        "form": FORM, "scrypt": {"n": lock.COST, "r": 8, "p": 1, "salt": _text(secrets.token_bytes(16))},
        "prefix": _text(secrets.token_bytes(7)), "part": PART,
    }  # fmt: skip
    line = json.dumps(head, separators=(",", ":")).encode() + b"\n"
    cipher, prefix = lock.aes_gcm(lock.stretched(passphrase, head)), base64.b64decode(head["prefix"])
    out.write(line)
    plain.seek(0)
    number, piece = 0, plain.read(PART)
    while True:
        after = plain.read(PART)
        out.write(cipher.encrypt(_nonce(prefix, number, not after), piece, line))
        if not after:
            return
        number, piece = number + 1, after


def open_bundle(closed: IO[bytes], out: IO[bytes], passphrase: str) -> None:
    """Write what is inside a locked bundle; it stands at its beginning afterwards.

    Raises
    ------
    InputError
        The passphrase does not open it, or it was changed.
    RecordError
        The library is missing.
    """
    from cryptography.exceptions import InvalidTag

    closed.seek(0)
    line = closed.readline(LONGEST_HEAD)
    head = _head(line)
    cipher, prefix = lock.aes_gcm(lock.stretched(passphrase, head)), base64.b64decode(head["prefix"])
    number, piece = 0, closed.read(PART + TAG)
    try:
        while True:
            after = closed.read(PART + TAG)
            out.write(cipher.decrypt(_nonce(prefix, number, not after), piece, line))
            if not after:
                break
            number, piece = number + 1, after
    except InvalidTag as fault:
        first = "The passphrase does not open this bundle, or it was changed on its way"
        raise InputError(
            "passphrase" if number == 0 else "bundle", "(not shown)" if number == 0 else f"part {number + 1}",
            first if number == 0 else "was changed on its way, or the file ends too early",
            try_next="Nothing was taken in. Ask who handed it over for the passphrase, or for the file again.",
        ) from fault  # fmt: skip
    out.seek(0)


def _head(line: bytes) -> dict[str, Any]:
    try:
        head: dict[str, Any] = json.loads(line)
        cost = head["scrypt"]
        if (head["form"], cost["r"], cost["p"], head["part"]) != (FORM, 8, 1, PART):
            raise ValueError("it is of another form")
        if cost["n"] not in [2**power for power in range(10, 21)] or len(base64.b64decode(head["prefix"])) != 7:
            raise ValueError("its numbers are out of bounds")
        base64.b64decode(cost["salt"], validate=True)
    except (ValueError, KeyError, TypeError, RecursionError) as fault:
        raise InputError(
            "bundle",
            "its first line",
            f"cannot be read ({fault})",
            try_next="Nothing was taken in. Ask for the file again.",
        ) from fault
    return head


def _nonce(prefix: bytes, number: int, last: bool) -> bytes:
    if number >= 2**32:
        raise RecordError("The bundle is too large to be locked.")
    return prefix + number.to_bytes(4, "big") + bytes([last])


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode()
