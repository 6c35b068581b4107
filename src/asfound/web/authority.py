"""The laptop's own certificate authority, made once in the home; it signs the certificate of the door for tablets.

A tablet trusts it once. So that a stolen key could do no more than speak for this laptop, the authority is bound by
name constraints (RFC 5280 section 4.2.1.10) to private addresses, to names under ``.local`` and to the laptop's own
name; its private key is readable by its owner only. Keys are on the curve P-256 (FIPS 186-5).
"""

from __future__ import annotations

import ipaddress
import os
import socket
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from asfound.errors import InputError, RecordError
from asfound.records.home import write_durably
from asfound.records.lock import protect, reveal

if TYPE_CHECKING:
    from pathlib import Path

    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

AUTHORITY_YEARS = 10
DOOR_DAYS = 180
"""Tablets refuse a certificate of an own authority that runs longer than 825 days; this one is made at each start."""
PRIVATE = ("127.0.0.0/8", "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "100.64.0.0/10",
           "::1/128", "fc00::/7", "fe80::/10")  # fmt: skip
"""Addresses that are nobody's on the Internet: RFC 1918, 3927, 6598, 4193, 4291."""


@dataclass(frozen=True, slots=True)
class Authority:
    """The authority of one home."""

    certificate: x509.Certificate
    key: EllipticCurvePrivateKey

    @property
    def der(self) -> bytes:
        """The certificate as a tablet takes it in."""
        from cryptography.hazmat.primitives.serialization import Encoding

        return self.certificate.public_bytes(Encoding.DER)

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate, in pairs as a tablet shows it."""
        from cryptography.hazmat.primitives.hashes import SHA256

        return self.certificate.fingerprint(SHA256()).hex(":").upper()


def need_cryptography() -> None:
    """Say what to install where the library is missing.

    Raises
    ------
    InputError
    """
    try:
        import cryptography  # noqa: F401
    except ImportError as missing:
        raise InputError(
            "share",
            "",
            "needs a library that is not installed",
            try_next="Sharing encrypts what goes over the air. Install it: pip install 'asfound[share]'.",
        ) from missing


def check_private(address: str) -> str:
    """Return an address of this site's own network, tidied.

    Raises
    ------
    InputError
        It is no address, or one that can be reached from outside the site.
    """
    try:
        at = ipaddress.ip_address(address.strip("[]"))
    except ValueError as fault:
        raise InputError(
            "share-at", address, "is no address", allowed="such as 192.168.1.20", try_next="Look it up in the network."
        ) from fault
    if not any(at in ipaddress.ip_network(one) for one in PRIVATE if ipaddress.ip_network(one).version == at.version):
        raise InputError(
            "share-at",
            address,
            "is no address of a site's own network",
            allowed="10.x, 172.16 to 31.x, 192.168.x, 169.254.x, fd.., fe80..",
            try_next="Sharing is for the tablets beside this laptop, not for the Internet.",
        )
    return str(at)


def own_address() -> str:
    """Return the address of this laptop in the network that it is in; nothing is sent to find it.

    Raises
    ------
    InputError
        It is in no network.
    """
    for family, beyond in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):  # RFC 5737, RFC 3849
        with socket.socket(family, socket.SOCK_DGRAM) as asking:
            try:
                asking.connect((beyond, 9))
                return str(asking.getsockname()[0])
            except OSError:
                continue
    raise InputError(
        "share",
        "",
        "finds no network",
        try_next="Join the site's network, or open a hotspot on this laptop or the tablet; or give --share-at.",
    )


def authority(folder: Path) -> Authority:
    """Return the authority of a home; made the first time.

    Raises
    ------
    RecordError
        Its files cannot be read or written.
    """
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    place = folder / "sharing"
    try:
        certificate = x509.load_pem_x509_certificate((place / "authority.crt").read_bytes())
        key = load_pem_private_key(
            reveal(folder, (place / "authority.key").read_bytes(), str(place / "authority.key")), None
        )
    except FileNotFoundError:
        return _make_authority(place)
    except (OSError, ValueError) as fault:
        raise RecordError(
            f"The authority in {place} cannot be read ({fault}). Move the folder away to make a new one; every tablet "
            "then has to trust the new one and be let in again."
        ) from fault
    if not isinstance(key, EllipticCurvePrivateKey) or certificate.not_valid_after_utc < datetime.now(UTC):
        raise RecordError(f"The authority in {place} has run out or is of another kind. Move the folder away.")
    return Authority(certificate, key)


def _make_authority(place: Path) -> Authority:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.hashes import SHA256
    from cryptography.hazmat.primitives.serialization import Encoding
    from cryptography.x509.oid import NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATION_NAME, "asfound"),
            x509.NameAttribute(NameOID.COMMON_NAME, f"asfound on {_host()}"[:64]),
        ]
    )
    now = datetime.now(UTC)
    permitted: list[x509.GeneralName] = [x509.IPAddress(ipaddress.ip_network(one)) for one in PRIVATE]
    permitted += [x509.DNSName(one) for one in dict.fromkeys(("local", "localhost", _host()))]
    usage = x509.KeyUsage(
        digital_signature=False, content_commitment=False, key_encipherment=False, data_encipherment=False,
        key_agreement=False, key_cert_sign=True, crl_sign=True, encipher_only=False, decipher_only=False,
    )  # fmt: skip
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=2))  # the clock of a tablet may be behind
        .not_valid_after(now + timedelta(days=365 * AUTHORITY_YEARS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage, critical=True)
        .add_extension(x509.NameConstraints(permitted_subtrees=permitted, excluded_subtrees=None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, SHA256())
    )
    place.mkdir(parents=True, exist_ok=True)
    place.chmod(0o700)
    _write_secret(place / "authority.key", protect(place.parent, _pem(key)))
    write_durably(place / "authority.crt", certificate.public_bytes(Encoding.PEM))
    return Authority(certificate, key)


def door_file(folder: Path, address: str) -> Path:
    """Return a file with key and certificate for one address, signed by the home's authority; made anew.

    Returns
    -------
    Path
        PEM: private key, certificate, certificate of the authority; readable by its owner only.
    """
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.hashes import SHA256
    from cryptography.hazmat.primitives.serialization import Encoding
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    signer = authority(folder)
    key = ec.generate_private_key(ec.SECP256R1())
    now = datetime.now(UTC)
    names: list[x509.GeneralName] = [x509.IPAddress(ipaddress.ip_address(address))]
    bound = signer.certificate.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or ()
    may = {str(one.value) for one in bound if isinstance(one, x509.DNSName)}
    # a laptop that was renamed since is found by its address and its name under .local
    names += [x509.DNSName(one) for one in names_of_this_laptop() if one in may or one.endswith(".local")]
    issuer_key = x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.key.public_key())
    certificate = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "asfound")]))
        .issuer_name(signer.certificate.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=2))
        .not_valid_after(min(now + timedelta(days=DOOR_DAYS), signer.certificate.not_valid_after_utc))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(issuer_key, critical=False)
        .sign(signer.key, SHA256())
    )
    path = folder / "sharing" / "door.pem"
    parts = (_pem(key), certificate.public_bytes(Encoding.PEM), signer.certificate.public_bytes(Encoding.PEM))
    path.unlink(missing_ok=True)
    _write_secret(path, b"".join(parts))
    return path


def names_of_this_laptop() -> tuple[str, ...]:
    """Return the names by which a tablet may find this laptop beside its address: its own, and that under .local."""
    host = _host()
    return tuple(dict.fromkeys((host, f"{host.removesuffix('.local')}.local")))


def _host() -> str:
    """Return this computer's name as a certificate can bear it."""
    named = socket.gethostname().lower()
    kept = "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-.") else "-" for sign in named).strip("-.")
    return kept[:60] or "laptop"


def _pem(key: EllipticCurvePrivateKey) -> bytes:
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


def _write_secret(path: Path, data: bytes) -> None:
    """Write a file that nobody but its owner can read, not even for a moment."""
    try:
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
            out.write(data)
    except OSError as fault:
        raise RecordError(f"{path} cannot be written: {fault.strerror}. Nothing is shared.") from fault
