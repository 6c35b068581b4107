"""Photos: turned, made smaller, kept by digest, with the time at which they were taken."""

from __future__ import annotations

import struct
import warnings
from contextlib import suppress
from io import BytesIO
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from starlette.testclient import TestClient

from asfound.errors import InputError
from asfound.records.store import Records
from asfound.web.photos import LONGEST_SIDE, make_photo

from .conftest import A2

ORIENTATION, TAKEN, OFFSET, CAMERA = 0x0112, 0x9003, 0x9011, 0x8769


def jpeg(width: int = 2400, height: int = 1200, *, turned: int = 1, taken: str = "2032:07:08 10:31:07") -> bytes:
    """Return a photo whose left half is white."""
    picture = Image.new("RGB", (width, height), "black")
    picture.paste("white", (0, 0, width // 2, height))
    exif = picture.getexif()
    exif[ORIENTATION] = turned
    exif.get_ifd(CAMERA)[TAKEN] = taken
    exif.get_ifd(CAMERA)[OFFSET] = "-06:00"
    out = BytesIO()
    picture.save(out, "JPEG", exif=exif)
    return out.getvalue()


def test_turned_by_what_the_camera_says_and_made_smaller() -> None:
    """EXIF orientation 6: the top of the picture is on its right (Exif 2.3, tag 0112; from memory)."""
    made = make_photo(jpeg(turned=6), "a.jpg")
    assert (made.width, made.height) == (LONGEST_SIDE // 2, LONGEST_SIDE)
    with Image.open(BytesIO(made.data)) as picture:
        assert picture.getpixel((10, 10))[0] > 200  # the left half came to lie on top
        assert picture.getpixel((10, LONGEST_SIDE - 10))[0] < 50
        assert not picture.getexif()
    assert made.taken == "2032-07-08T10:31:07-06:00"


def test_a_small_photo_is_not_blown_up_and_one_without_time_has_none() -> None:
    out = BytesIO()
    Image.new("RGBA", (300, 200), (1, 2, 3, 4)).save(out, "PNG")
    made = make_photo(out.getvalue(), "a.png")
    assert (made.width, made.height, made.taken) == (300, 200, "")


@pytest.mark.parametrize("data", [b"", b"not a picture", jpeg()[:400], b"GIF89a" + b"\0" * 40])
def test_what_is_no_picture_is_refused(data: bytes) -> None:
    with pytest.raises(InputError, match="no picture"):
        make_photo(data, "broken.jpg")


def test_kept_shown_and_sorted_later(client: TestClient, records: Records) -> None:
    files = {"photo": ("../../IMG 1.jpg", jpeg(), "image/jpeg")}
    assert (
        client.post(f"{A2}/photos", files=files, data={"back": f"{A2}/exhaust"}).headers["location"] == f"{A2}/exhaust"
    )
    entry = records.entries(kind="photo")[-1]
    assert entry.content["filename"] == "IMG 1.jpg"
    assert entry.content["time"].startswith("2032-07-08T10:31:07")
    shown = client.get(f"/photos/{entry.content['digest']}")
    assert shown.headers["content-type"] == "image/jpeg"
    assert client.get(A2).text.count(entry.content["digest"]) >= 1
    client.post(f"{A2}/photos/sort", data={"entry": entry.id, "place": "speed_controller"})
    assert records.entries(kind="photo")[-1].content["place"] == "speed_controller"
    refused = client.post(f"{A2}/photos", files={"photo": ("x.jpg", b"no", "image/jpeg")})
    assert refused.status_code == 422
    assert "was not kept" in refused.text


def test_a_file_that_is_no_picture_is_never_shown_as_a_page(client: TestClient, records: Records) -> None:
    digest = records.attach(b"<script>alert(1)</script>", "a.html", "text/html")
    content = {
        "digest": digest,
        "filename": "a.html",
        "media_type": "text/html",
        "size": 25,
        "time": "2032-07-08T10:00:00-06:00",
    }
    records.append("photo", content, visit=records.visit("A2").id)
    answer = client.get(f"/photos/{digest}")
    assert answer.headers["content-type"] == "application/octet-stream"
    assert answer.headers["content-disposition"] == "attachment"
    assert client.get("/photos/" + "0" * 64).status_code == 404


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(["JPEG", "PNG", "WEBP", "TIFF", "GIF"]), st.randoms(use_true_random=False))
def test_a_damaged_picture_is_read_or_refused(form: str, chance: Random) -> None:
    out = BytesIO()
    Image.new("RGB", (60, 40), "red").save(out, form)
    damaged = bytearray(out.getvalue())
    for _ in range(chance.choice([1, 3, 20])):
        damaged[chance.randrange(chance.choice([40, len(damaged)])) % len(damaged)] = chance.randrange(256)
    with suppress(InputError), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's own remarks
        assert make_photo(bytes(damaged[: chance.choice([len(damaged), 30])]), "a.jpg").data


def test_a_picture_whose_fields_are_of_the_wrong_kind_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a TIFF with a broken directory led to inside the library (found by random damage)."""

    def broken(_picture: object) -> object:
        raise struct.error("required argument is not an integer")

    data = jpeg()
    monkeypatch.setattr(Image.Image, "getexif", broken)
    with pytest.raises(InputError, match="no picture"):
        make_photo(data, "a.jpg")


def located(north: str = "N", east: str = "W") -> bytes:
    """Return a photo with a place: 41 deg 30' 18" and 8 deg 15' 0"."""
    picture = Image.new("RGB", (60, 40))
    exif = picture.getexif()
    exif.get_ifd(CAMERA)[TAKEN] = "2032:07:08 10:31:07"
    exif.get_ifd(CAMERA)[OFFSET] = "-06:00"
    place = exif.get_ifd(0x8825)
    place[1], place[2], place[3], place[4] = north, (41.0, 30.0, 18.0), east, (8.0, 15.0, 0.0)
    out = BytesIO()
    picture.save(out, "JPEG", exif=exif)
    return out.getvalue()


@pytest.mark.parametrize(
    ("north", "east", "where"),
    [("N", "W", (41.505, -8.25)), ("S", "E", (-41.505, 8.25)), ("N", "E", (41.505, 8.25))],
)
def test_the_place_in_a_photo_is_read(north: str, east: str, where: tuple[float, float]) -> None:
    assert make_photo(located(north, east), "a.jpg").where == where


def test_a_place_that_is_none_is_none() -> None:
    assert make_photo(jpeg(300, 200), "a.jpg").where is None
    picture = Image.new("RGB", (60, 40))
    exif = picture.getexif()
    exif.get_ifd(0x8825)[2] = (500.0, 0.0, 0.0)
    out = BytesIO()
    picture.save(out, "JPEG", exif=exif)
    assert make_photo(out.getvalue(), "a.jpg").where is None


@pytest.mark.parametrize("time", ["keep", "strip"])
@pytest.mark.parametrize("place", ["keep", "strip"])
def test_time_and_place_are_kept_or_left_out_by_choice(
    client: TestClient, records: Records, time: str, place: str
) -> None:
    if (time, place) != ("keep", "strip"):  # what holds without a choice
        client.post("/settings", data={"photo_time": time, "photo_place": place})
    client.post(f"{A2}/photos", files={"photo": ("a.jpg", located(), "image/jpeg")})
    content = records.entries()[-1].content
    assert (content["time"] == "2032-07-08T10:31:07-06:00") == (time == "keep")
    assert (content.get("latitude"), content.get("longitude")) == ((41.505, -8.25) if place == "keep" else (None, None))
    with Image.open(BytesIO(records.attachment(content["digest"]))) as kept:
        assert not kept.getexif()
