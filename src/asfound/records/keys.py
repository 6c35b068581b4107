"""The key that signs seals: Ed25519, made once, kept in the home, readable by its owner alone."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

from asfound.errors import RecordError
from asfound.history.disk import flush
from asfound.records.lock import protect, reveal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.records.home import Home

NEEDS = "Signing needs the library 'cryptography'. Install it with: pip install 'asfound[share]'"


def make_key(home: Home) -> str:
    """Make the key of a home and return its public part in hexadecimal; write that down where the seals are checked.

    Raises
    ------
    RecordError
        There is one already, the library is missing, or the file cannot be written.
    """
    ed25519, serialization = _library()
    if home.key.exists():
        raise RecordError(f"There is a key already: {home.key}. Seals go on being signed with it.")
    private = ed25519.Ed25519PrivateKey.generate()
    pem = protect(
        home.folder,
        private.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        ),
    )
    home.folder.mkdir(parents=True, exist_ok=True)
    try:
        handle = os.open(home.key, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as out:
            out.write(pem)
            out.flush()
            flush(out.fileno())
    except OSError as fault:
        raise RecordError(f"The key cannot be written to {home.key}: {fault.strerror}.") from fault
    return _public(private, serialization)


def public_key(home: Home) -> str:
    """Return the public part of the home's key in hexadecimal; empty where there is none."""
    if not home.key.exists():
        return ""
    _, serialization = _library()
    return _public(_private(home), serialization)


def sign(home: Home, digest: str) -> dict[str, str] | None:
    """Return the signature of a digest; None where the home has no key."""
    if not home.key.exists():
        return None
    _, serialization = _library()
    private = _private(home)
    return {
        "algorithm": "Ed25519",
        "key": _public(private, serialization),
        "signature": private.sign(bytes.fromhex(digest)).hex(),
    }


def signature_holds(signature: Mapping[str, Any], digest: str) -> str:
    """Return what is wrong with a signature over a digest; empty when it holds.

    Raises
    ------
    RecordError
        The library is missing, so it cannot be told.
    """
    ed25519, _ = _library()
    from cryptography.exceptions import InvalidSignature

    try:
        key = ed25519.Ed25519PublicKey.from_public_bytes(bytes.fromhex(str(signature["key"])))
        key.verify(bytes.fromhex(str(signature["signature"])), bytes.fromhex(digest))
    except InvalidSignature:
        return "The signature does not belong to this digest and key."
    except (KeyError, ValueError) as fault:
        return f"The signature cannot be read ({fault})."
    return ""


def _private(home: Home) -> Any:
    """Return the private key of a home."""
    _, serialization = _library()
    try:
        pem = reveal(home.folder, home.key.read_bytes(), str(home.key))
        return serialization.load_pem_private_key(pem, password=None)
    except (OSError, ValueError) as fault:
        raise RecordError(f"The key {home.key} cannot be read ({fault}). Put it right, or move it away.") from fault


def _public(private: Any, serialization: Any) -> str:
    """Return the 32 bytes of a public key in hexadecimal."""
    raw: bytes = private.public_key().public_bytes(serialization.Encoding.Raw, serialization.PublicFormat.Raw)
    return raw.hex()


def _library() -> tuple[Any, Any]:
    """Return the two modules that are needed, or say how to get them."""
    try:
        from cryptography.hazmat.primitives import serialization
        from cryptography.hazmat.primitives.asymmetric import ed25519
    except ImportError as fault:
        raise RecordError(NEEDS) from fault
    return ed25519, serialization
