"""Photos: turned, made smaller and kept by digest; shown to whoever asks for the digest."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from starlette.datastructures import UploadFile
from starlette.responses import Response
from starlette.routing import Route

from asfound.errors import InputError
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.pages import back_or, go, house_of
from asfound.web.readings import typed_at
from asfound.web.security import PHOTO_LIMIT

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request

LONGEST_SIDE = 1600
MOST_PIXELS = 120_000_000
SHOWN = {"image/jpeg", "image/png", "image/webp", "image/gif"}
BROKEN = (
    OSError,
    ValueError,
    TypeError,
    SyntaxError,
    ArithmeticError,
    LookupError,
    MemoryError,
    EOFError,
    struct.error,
)
"""What a reader of pictures meets in a damaged one."""
TAKEN, TAKEN_OFFSET, CAMERA = 0x9003, 0x9011, 0x8769  # EXIF: time taken, its offset from UTC, the block they are in
PLACE, NORTH, LATITUDE, EAST, LONGITUDE = 0x8825, 1, 2, 3, 4  # the block of the place, and what is in it


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A photo as it will be kept."""

    data: bytes
    width: int
    height: int
    taken: str
    """ISO 8601 with offset, from the camera; empty where it does not say."""
    where: tuple[float, float] | None = None
    """Latitude and longitude from the camera. [deg]"""


def make_photo(data: bytes, filename: str, *, zone: Any = None) -> Made:
    """Return a photo turned the way it was taken and at most 1,600 pixels long, as JPEG without the camera's data.

    Parameters
    ----------
    data : bytes
        JPEG, PNG, WebP, TIFF ...
    filename : str
        For the message, if it cannot be read.
    zone : tzinfo, optional
        Of the camera, where it wrote a time without offset.

    Raises
    ------
    InputError
        It is no picture that can be read here.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with Image.open(BytesIO(data)) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise InputError("photo", filename, "has too many pixels", allowed="up to 120 million")
            taken, where = _taken(opened.getexif(), zone), _where(opened.getexif())
            turned = ImageOps.exif_transpose(opened).convert("RGB")
    except (UnidentifiedImageError, Image.DecompressionBombError, *BROKEN) as fault:
        if isinstance(fault, InputError):
            raise
        raise InputError(
            "photo",
            filename,
            "is no picture that can be read here",
            allowed="JPEG, PNG, WebP, TIFF",
            try_next="Set the camera to JPEG, or keep the file outside and note where.",
        ) from fault
    turned.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    out = BytesIO()
    turned.save(out, "JPEG", quality=85, optimize=True)
    return Made(data=out.getvalue(), width=turned.width, height=turned.height, taken=taken, where=where)


def _taken(exif: Any, zone: Any) -> str:
    """Return when the camera took it."""
    block = exif.get_ifd(CAMERA)
    written = str(block.get(TAKEN, "") or exif.get(0x0132, ""))
    try:
        when = datetime.strptime(written.strip("\0 "), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return ""
    offset = str(block.get(TAKEN_OFFSET, "")).strip("\0 ")
    try:
        return (
            datetime.fromisoformat(f"{when.isoformat()}{offset}").isoformat()
            if offset
            else when.replace(tzinfo=zone).isoformat()
        )
    except ValueError:
        return ""


def _where(exif: Any) -> tuple[float, float] | None:
    """Return where the camera took it; None where it does not say, or says what is no place."""
    block = exif.get_ifd(PLACE)
    found = []
    for side, angle, negative, most in ((NORTH, LATITUDE, "S", 90.0), (EAST, LONGITUDE, "W", 180.0)):
        try:
            degrees, minutes, seconds = (float(one) for one in block[angle])
            at = degrees + minutes / 60 + seconds / 3600
        except BROKEN:
            return None
        if not 0.0 <= at <= most:  # also what is no number
            return None
        found.append(-at if str(block.get(side, "")).strip("\0 ").upper() == negative else at)
    return round(found[0], 6), round(found[1], 6)


def keep_photo(request: Request, form: FormData) -> Response:
    """Keep a photo and say what it shows, as far as that is known now."""
    here, house = at_visit(request), house_of(request)
    file = form.get("photo")
    back = back_or(text(form, "back"), here.base)
    if not isinstance(file, UploadFile) or not file.filename:
        return go(back)
    data = file.file.read(PHOTO_LIMIT + 1)
    name = PurePath(file.filename.replace("\\", "/")).name[:200] or "photo"
    try:
        made = make_photo(data, name, zone=house.records.clock.now().tzinfo)
    except InputError as refused:
        return visit_page(
            request,
            "photo_refused.html",
            here,
            step="visit",
            title="The photo was not kept",
            status=422,
            refused=refused,
            back=back,
        )
    digest = house.records.attach(made.data, name, "image/jpeg")
    chosen = house.records.settings
    taken = made.taken if chosen.photo_time == "keep" else ""
    content: dict[str, Any] = {
        "digest": digest,
        "filename": name,
        "media_type": "image/jpeg",
        "size": len(made.data),
        "time": taken or typed_at(request, house),
        "state": here.prefs.column,
        "place": text(form, "place"),
        "caption": text(form, "caption"),
    }
    if made.where is not None and chosen.photo_place == "keep":
        content["latitude"], content["longitude"] = made.where
    if text(form, "step"):
        content["step"] = text(form, "step")
    house.records.append("photo", content, visit=here.id, who=here.prefs.who)
    return go(back)


def sort_photo(request: Request, form: FormData) -> Response:
    """Say later what a photo shows; the line that said nothing stays, this one corrects it."""
    here, house = at_visit(request), house_of(request)
    entry = house.records.entry(text(form, "entry"))
    content = {**entry.content, "place": text(form, "place"), "caption": text(form, "caption")}
    house.records.append("photo", content, visit=here.id, corrects=entry.id, who=here.prefs.who)
    return go(back_or(text(form, "back"), f"{here.base}#photos"))


def show_photo(request: Request) -> Response:
    """Return a kept picture; any other kind of file is handed over to be saved, never shown."""
    house = house_of(request)
    digest = request.path_params["digest"]
    about = next((one for one in house.records.entries(kind="photo") if one.content["digest"] == digest), None)
    data = house.records.attachment(digest)
    kind = about.content["media_type"] if about else "application/octet-stream"
    headers = {"cache-control": "private, max-age=31536000, immutable"}
    if kind not in SHOWN:
        headers["content-disposition"] = "attachment"
        kind = "application/octet-stream"
    return Response(data, media_type=kind, headers=headers)


ROUTES = [
    Route(
        "/engines/{engine}/{day}/photos", acting(keep_photo), methods=["POST"], max_body_size=PHOTO_LIMIT + 64 * 1024
    ),
    Route("/engines/{engine}/{day}/photos/sort", acting(sort_photo), methods=["POST"]),
    Route("/photos/{digest:str}", show_photo),
]
