"""The door for tablets: who comes in, what it refuses, whose certificate it shows; and a form that is sent twice."""

from __future__ import annotations

import re
import ssl
import stat
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from asfound.errors import InputError
from asfound.records.devices import Devices
from asfound.records.entries import make_id
from asfound.records.store import Records
from asfound.web.app import create_app
from asfound.web.authority import authority, check_private, door_file, names_of_this_laptop
from asfound.web.pairing import GUESSES, LASTS, Sharing, picture
from asfound.web.security import DEVICE_COOKIE, POLICY
from asfound.web.serve import bound, make_sharing, open_door, serve

from .conftest import A2

AT = "https://192.168.1.20:8790"
CO = "v:as_left/stack/exhaust_co_dry"
NAVIGATES = {"accept": "text/html"}


class Time:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def time() -> Time:
    return Time()


@pytest.fixture
def share(records: Records, time: Time) -> Sharing:
    folder = records.home.folder
    return Sharing(AT, authority(folder), Devices(folder), now=time)


@pytest.fixture
def laptop(records: Records, share: Sharing) -> Iterator[TestClient]:
    """The laptop's own pages."""
    app = create_app(records, who="laptop", share=share, debug=True)
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as made:
        yield made


@pytest.fixture
def outside(records: Records, share: Sharing, laptop: TestClient) -> Iterator[TestClient]:
    """A tablet that was not let in."""
    app = create_app(
        records, who="laptop", share=share, beside=laptop.app, hosts=("192.168.1.20",), debug=True  # type: ignore[arg-type]
    )  # fmt: skip
    with TestClient(app, base_url="https://192.168.1.20", follow_redirects=False) as made:
        yield made


@pytest.fixture
def inside(outside: TestClient, share: Sharing) -> TestClient:
    """A tablet that was let in."""
    answer = outside.post("/pair", data={"code": share.new_code(), "name": "tablet", "person": "second engineer"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    return outside


# ---------------------------------------------------------------------- who comes in


@pytest.mark.parametrize("path", ["/", "/engines/A2", f"{A2}/exhaust", "/settings", "/api/quantities", "/waiting"])
def test_nothing_of_the_record_is_shown_before_pairing(outside: TestClient, path: str) -> None:
    page = outside.get(path, headers=NAVIGATES)
    assert (page.status_code, page.headers["location"]) == (303, "/pair")
    assert outside.get(path).status_code == 401
    assert outside.post(path).status_code == 401
    assert "A2" not in outside.get("/pair").text


def test_the_token_is_kept_as_a_digest_only(inside: TestClient, records: Records) -> None:
    token = inside.cookies[DEVICE_COOKIE]
    assert len(token) == 43  # 32 bytes
    written = (records.home.folder / "sharing" / "devices.json").read_text()
    assert token not in written
    assert re.search(r'"digest": "[0-9a-f]{64}"', written)
    assert inside.get("/", headers=NAVIGATES).status_code == 200


def test_the_cookie_is_for_this_door_only(outside: TestClient, share: Sharing) -> None:
    said = outside.post("/pair", data={"code": share.new_code()}).headers["set-cookie"]
    for wanted in ("HttpOnly", "Secure", "SameSite=strict", "Path=/"):
        assert wanted in said


def test_a_code_lets_in_one_device(outside: TestClient, share: Sharing) -> None:
    code = share.new_code()
    spaced = f"{code[:4].lower()} {code[4:8]}-{code[8:]}"
    assert outside.post("/pair", data={"code": spaced}).status_code == 303
    again = outside.post("/pair", data={"code": code})
    assert again.status_code == 422
    assert "used or too old" in again.text
    assert len(share.devices.all()) == 1


def test_a_code_grows_old(outside: TestClient, share: Sharing, time: Time) -> None:
    code = share.new_code()
    time.now += LASTS + 1
    assert outside.post("/pair", data={"code": code}).status_code == 422
    assert share.code == ""


def test_guessing_closes_the_code(outside: TestClient, share: Sharing) -> None:
    code = share.new_code()
    for _ in range(GUESSES):
        assert outside.post("/pair", data={"code": "A" * 12}).status_code == 422
    assert outside.post("/pair", data={"code": code}).status_code == 422
    assert share.devices.all() == ()


def test_a_device_that_is_shut_out_is_out_at_once(inside: TestClient, laptop: TestClient, share: Sharing) -> None:
    page = laptop.get("/sharing").text
    assert "used by second engineer" in page
    laptop.post("/sharing/withdraw", data={"device": share.devices.all()[0].id})
    assert inside.get("/", headers=NAVIGATES).headers["location"] == "/pair"
    assert inside.post(f"{A2}/notes", data={"text": "too late"}).status_code == 401
    assert "Shut out" in laptop.get("/sharing").text


def test_what_a_tablet_sends_bears_its_persons_name(inside: TestClient, records: Records) -> None:
    inside.post(f"{A2}/notes", data={"text": "from the tablet"})
    assert records.entries()[-1].who == "second engineer"


def test_devices_are_let_in_on_the_laptop_only(inside: TestClient, share: Sharing) -> None:
    assert inside.get("/sharing").status_code == 403
    assert inside.post("/sharing/code").status_code == 403
    assert share.code == ""


def test_the_laptop_shows_address_code_and_fingerprint(laptop: TestClient, share: Sharing) -> None:
    assert "No code is open" in laptop.get("/sharing").text
    assert laptop.post("/sharing/code").status_code == 303
    page = laptop.get("/sharing").text
    assert AT in page
    assert share.code[:4] in page
    assert share.authority.fingerprint in re.sub("<[^>]+>", "", page)
    assert 'class="qr"' in page


def test_the_picture_can_be_read(share: Sharing, tmp_path: Path) -> None:
    """zxing-cpp reads what was drawn; the modules are painted by hand from the path of the picture."""
    zxingcpp = pytest.importorskip("zxingcpp")
    from PIL import Image

    share.new_code()
    drawn = picture(share.pairing_address)
    side = int(re.search(r'viewBox="0 0 (\d+)', drawn)[1])  # type: ignore[index]
    shown = Image.new("L", (side, side), 255)
    for x, y, width, height in re.findall(r"M(\d+) (\d+)h(\d+)v(\d+)h-\d+Z", drawn.split("qr-ink")[1]):
        shown.paste(0, (int(x), int(y), int(x) + int(width), int(y) + int(height)))
    found = zxingcpp.read_barcodes(shown.resize((side * 6, side * 6), Image.Resampling.NEAREST))
    assert [one.text for one in found] == [share.pairing_address]


def test_without_sharing_the_page_says_how(client: TestClient) -> None:
    assert "asfound serve --share" in client.get("/sharing").text
    assert client.get("/pair").status_code == 404


# ---------------------------------------------------------------------- what the door refuses


def test_the_door_answers_to_its_own_names_only(inside: TestClient) -> None:
    for host in ("evil.example", "127.0.0.1", "localhost"):
        assert inside.get("/", headers={"host": host}).status_code == 400


def test_a_page_of_another_site_changes_nothing(inside: TestClient, records: Records) -> None:
    before = records.entries()
    for told in ({"sec-fetch-site": "cross-site"}, {"origin": "https://evil.example"}):
        assert inside.post(f"{A2}/notes", data={"text": "x"}, headers=told).status_code == 403
    assert records.entries() == before


def test_the_policy_lets_a_tablet_read_the_manifest_and_nothing_more(inside: TestClient, laptop: TestClient) -> None:
    assert laptop.get("/").headers["content-security-policy"] == POLICY
    assert inside.get("/").headers["content-security-policy"] == POLICY + "; manifest-src 'self'"


@pytest.mark.parametrize("address", ["0.0.0.0", "8.8.8.8", "::", "2606:4700::1111", "laptop", "172.32.0.1"])
def test_sharing_beyond_the_sites_own_network_is_refused(address: str, home: Path) -> None:
    with pytest.raises(InputError):
        check_private(address)
    with pytest.raises(InputError):
        serve(home, 0, False, share=True, share_at=address)


@pytest.mark.parametrize("address", ["192.168.1.20", "10.0.0.5", "172.16.4.1", "169.254.7.7", "fd00::1", "[fe80::1]"])
def test_addresses_of_a_site_are_taken(address: str) -> None:
    assert check_private(address) == address.strip("[]")


def test_without_the_library_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch, home: Path) -> None:
    monkeypatch.setitem(sys.modules, "cryptography", None)
    with pytest.raises(InputError, match=r"asfound\[share\]"):
        serve(home, 0, False, share=True)


# ---------------------------------------------------------------------- whose certificate it shows


def test_the_authority_is_made_once_and_its_key_is_its_owners(home: Path) -> None:
    first = authority(home).fingerprint
    assert authority(home).fingerprint == first
    assert len(first.split(":")) == 32
    door_file(home, "192.168.1.20")
    if sys.platform != "win32":
        for name in ("authority.key", "door.pem"):
            assert stat.S_IMODE((home / "sharing" / name).stat().st_mode) == 0o600


def test_the_authority_can_speak_for_nobody_else(home: Path) -> None:
    """By the library's own verifier: a certificate for a public name under our authority is refused."""
    from datetime import UTC, datetime, timedelta

    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.hashes import SHA256

    made = authority(home)
    bound = made.certificate.extensions.get_extension_for_class(x509.NameConstraints)
    assert bound.critical
    key = ec.generate_private_key(ec.SECP256R1())
    now = datetime.now(UTC)
    false = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([]))
        .issuer_name(made.certificate.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("bank.example")]), critical=True)
        .sign(made.key, SHA256())
    )
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    pem = home / "sharing" / "false.pem"
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    pem.write_bytes(
        key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()) + false.public_bytes(Encoding.PEM)
    )
    server.load_cert_chain(pem)
    with pytest.raises(ssl.SSLCertVerificationError, match=r"subtree|constraint"):
        shake_hands(server, trusting(home), "bank.example")


def trusting(home: Path) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=str(home / "sharing" / "authority.crt"))


def shake_hands(server: ssl.SSLContext, client: ssl.SSLContext, name: str) -> None:
    """Let both sides talk through memory."""
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    here = client.wrap_bio(to_client, to_server, server_hostname=name)
    there = server.wrap_bio(to_server, to_client, server_side=True)
    for _ in range(6):
        for one in (here, there):
            try:
                one.do_handshake()
            except ssl.SSLWantReadError:
                continue


def test_the_door_is_encrypted_and_vouched_for_by_the_authority(records: Records, home: Path) -> None:
    with bound("127.0.0.1", 0, 0) as listening:
        port = listening.getsockname()[1]
        share = make_sharing(records, "127.0.0.1", port)
        own = create_app(records, share=share)
        with open_door(records, own, share, listening):
            for host in ("127.0.0.1", names_of_this_laptop()[0]):
                request = urllib.request.Request(f"https://127.0.0.1:{port}/trust", headers={"host": host})
                with urllib.request.urlopen(request, context=trusting(home), timeout=20) as answer:
                    assert answer.status == 200
            with pytest.raises(urllib.error.URLError, match="certificate verify failed"):
                urllib.request.urlopen(f"https://127.0.0.1:{port}/trust", timeout=20)
            with pytest.raises((urllib.error.URLError, ConnectionError, OSError)):
                urllib.request.urlopen(f"http://127.0.0.1:{port}/trust", timeout=20)


def test_the_certificate_is_handed_over_as_it_is(outside: TestClient, share: Sharing) -> None:
    answer = outside.get("/authority.crt")
    assert answer.content == share.authority.der
    assert answer.headers["content-type"] == "application/x-x509-ca-cert"
    assert share.authority.fingerprint not in outside.get("/trust").text  # it is compared with the laptop's own screen


# ---------------------------------------------------------------------- a form that is sent twice


def entry(n: int = 0) -> dict[str, str]:
    key = make_id(1_972_000_000_000 + n, randbits=lambda _bits: 7)
    return {"x-asfound-entry": key, "x-asfound-part": "1", "x-asfound-page": f"{A2}/exhaust"}


def test_a_reading_that_is_sent_twice_is_kept_once_and_answered_alike(client: TestClient, records: Records) -> None:
    data = {CO: "395", "u:stack/exhaust_co_dry": "ppm"}
    first = client.post(f"{A2}/exhaust", data=data, headers=entry())
    kept = records.entries()
    later = client.post(f"{A2}/exhaust", data={CO: "401", "u:stack/exhaust_co_dry": "ppm"}, headers=entry(1))
    again = client.post(f"{A2}/exhaust", data=data, headers=entry(), follow_redirects=True)
    assert records.entries()[: len(kept)] == kept
    assert len(records.entries()) == len(kept) + 1  # 401 stands, 395 did not come back over it
    assert (first.status_code, later.status_code, again.status_code) == (200, 200, 200)
    told = client.post(f"{A2}/exhaust", data=data, headers=entry())
    assert told.headers["x-asfound-again"] == "1"
    assert told.headers["x-asfound-entries"] == first.headers["x-asfound-entries"] == kept[-1].id


def test_a_note_that_is_sent_twice_leads_to_the_same_place(client: TestClient, records: Records) -> None:
    before = len(records.entries())
    sent = {**entry(2), "x-asfound-part": "0"}
    answers = [client.post(f"{A2}/notes", data={"text": "once", "back": f"{A2}/log"}, headers=sent) for _ in range(3)]
    assert {(one.status_code, one.headers["location"]) for one in answers} == {(303, f"{A2}/log")}
    assert len({one.headers["x-asfound-entries"] for one in answers}) == 1
    assert len(records.entries()) == before + 1


def test_a_photo_that_is_sent_twice_is_kept_once(client: TestClient, records: Records) -> None:
    from .test_photos import jpeg  # type: ignore[attr-defined]

    before = len(records.entries())
    for _ in range(2):
        client.post(f"{A2}/photos", files={"photo": ("a.jpg", jpeg(), "image/jpeg")}, headers=entry(3))
    assert [one.kind for one in records.entries()[before:]] == ["photo"]


def test_a_field_that_cannot_be_says_so_each_time(client: TestClient, records: Records) -> None:
    """One of two fields cannot be: the other is kept, once, and the complaint comes each time."""
    data = {CO: "39.5 bar", "v:as_left/stack/exhaust_oxygen_dry": "8.7", "u:stack/exhaust_oxygen_dry": "%"}
    before = len(records.entries())
    answers = [client.post(f"{A2}/exhaust", data=data, headers=entry(4)) for _ in range(3)]
    assert len(records.entries()) == before + 1
    assert [one.status_code for one in answers] == [422, 422, 422]


def test_what_waited_keeps_its_column(client: TestClient, records: Records) -> None:
    client.cookies.set("column", "as_found")
    client.post(f"{A2}/notes", data={"text": "x"}, headers={**entry(5), "x-asfound-column": "as_left"})
    assert records.entries()[-1].content["state"] == "as_left"


def test_an_identifier_that_is_none_is_no_identifier(client: TestClient, records: Records) -> None:
    before = len(records.entries())
    for _ in range(2):
        client.post(f"{A2}/notes", data={"text": "x"}, headers={"x-asfound-entry": "nonsense"})
    assert len(records.entries()) == before + 2
