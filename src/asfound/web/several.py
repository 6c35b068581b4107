"""Several people, one record: hand it over as one file, take one in, settle what two laptops wrote apart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import IO, TYPE_CHECKING, Any, cast

from starlette.responses import StreamingResponse
from starlette.routing import Route

from asfound.errors import AsFoundError, InputError
from asfound.quantities.display import chance
from asfound.quantities.register import quantities
from asfound.quantities.register import quantity as registered
from asfound.records.conflicts import Clash, Side, clashes, settle
from asfound.report.wording import brief, clean, place_words
from asfound.web import words
from asfound.web.forms import acting, text, texts
from asfound.web.pages import Crumb, go, house_of, page, prefs_of
from asfound.web.results import reading_interval, shown

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.quantities.register import System
    from asfound.web.house import House

HOME = Crumb("/", "Engines")
CHUNK = 1 << 18


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One side of a clash, in words."""

    id: str
    who: str
    when: str
    laptop: str
    value: str
    unit: str
    interval: str
    rows: tuple[tuple[str, str], ...]
    """Name and value of what else this side says."""
    stands: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A clash, in words."""

    id: str
    kind: str
    title: str
    says: str
    where: str
    href: str
    versions: tuple[Version, ...]
    hint: str
    keep: str
    """Words of the main button."""
    only: str
    """Words of the button of one side; empty where choosing one side is no answer."""
    sealed: bool


def show_hand_over(request: Request, *, complaint: str = "") -> Response:
    """Show what can be handed over: the whole home, sites, engines."""
    house = house_of(request)
    engines = house.engine_list()
    sites = [one for one in house.records.sites().values() if any(e.site and e.site.id == one.id for e in engines)]
    return page(
        request,
        "hand_over.html",
        title="Hand over",
        crumbs=(HOME, Crumb("/hand-over", "Hand over")),
        engines=engines,
        sites=sites,
        complaint=complaint,
        status=422 if complaint else 200,
    )


def send_bundle(request: Request) -> Response:
    """Return a bundle of what was chosen; nothing chosen: the whole home."""
    return _bundle(request, request.query_params.getlist("part"), "")


def send_locked_bundle(request: Request, form: FormData) -> Response:
    """Return a bundle closed with the passphrase that was typed; without one a plain one."""
    given = form.get("passphrase", "")
    return _bundle(request, texts(form, "part"), given if isinstance(given, str) else "")


def _bundle(request: Request, parts: Sequence[str], passphrase: str) -> Response:
    import tempfile

    from asfound.records.bundle import write_bundle
    from asfound.records.bundle_locked import lock_bundle
    from asfound.records.lock import passing_in

    house = house_of(request)
    names = [one for one in parts if one and one != "all"]
    passing = passing_in(house.records.home.folder)
    out = tempfile.SpooledTemporaryFile(max_size=1 << 24, dir=passing)  # noqa: SIM115 - closed when it was sent
    try:
        if passphrase:
            with tempfile.TemporaryFile(dir=passing) as plain:
                write_bundle(house.records, plain, names)
                lock_bundle(plain, cast("IO[bytes]", out), passphrase)
        else:
            write_bundle(house.records, out, names)
    except AsFoundError as refused:
        out.close()
        return show_hand_over(request, complaint=str(refused))
    out.seek(0)

    def pieces() -> Iterator[bytes]:
        with out:
            while piece := out.read(CHUNK):
                yield piece

    day = house.records.clock.now().date().isoformat()
    tags = [one.tag for one in house.engine_list() if one.id in names]
    stem = "".join(one if one.isascii() and one.isalnum() else "-" for one in tags[0]) if len(tags) == 1 else "home"
    ending, kind = ("locked", "application/octet-stream") if passphrase else ("zip", "application/zip")
    headers = {"content-disposition": f'attachment; filename="asfound-{stem}-{day}.{ending}"'}
    return StreamingResponse(pieces(), media_type=kind, headers=headers)


def show_settle(request: Request, *, complaint: str = "") -> Response:
    """Show what waits to be settled, both sides beside each other."""
    house = house_of(request)
    waiting = [shown_clash(one, house, prefs_of(request).units) for one in clashes(house.records)]
    return page(
        request,
        "settle.html",
        title="To settle",
        crumbs=(HOME, Crumb("/settle", "To settle")),
        waiting=waiting,
        complaint=complaint,
        status=422 if complaint else 200,
    )


def keep_settled(request: Request, form: FormData) -> Response:
    """Keep what a person decided about a clash."""
    house = house_of(request)
    about, chosen = text(form, "about"), list(texts(form, "choose"))
    if "all" in chosen:
        chosen = [side.entry.id for one in clashes(house.records) if one.about.id == about for side in one.sides]
    try:
        settle(house.records, about, chosen, why=text(form, "why"), who=prefs_of(request).who)
    except (InputError, LookupError) as refused:
        return show_settle(request, complaint=str(refused))
    return go("/settle")


# ---------------------------------------------------------------------- in words


def shown_clash(one: Clash, house: House, units: str) -> Shown:
    """Return a clash in words."""
    system: System = "us" if units == "us" else "si"
    where, href = "", "/settle"
    if one.engine is not None:
        engine = house.records.engine(one.engine)
        system = "us" if units == "us" or (units == "site" and engine.units == "us") else "si"
        where, href = engine.tag, house.engine_base(engine)
        if one.visit is not None:
            visit = house.records.visit(one.visit)
            where, href = f"{engine.tag}, {words.day(visit.date)}", house.visit_base(visit, engine)
    several = "both" if len(one.sides) == 2 else f"all {len(one.sides)}"
    readings = all(side.reading for side in one.sides)
    keep = f"Keep {several} as {_number(len(one.sides))} readings" if readings else f"Keep {several}"
    only = "Only this one"
    if one.kind == "sealed_twice":
        keep, only = "The first closing counts; say so in an addendum", ""
    elif one.sealed:
        keep, only = "Name them in an addendum", ""
    return Shown(
        id=one.about.id,
        kind=one.kind,
        title=clean(_title(one)),
        says=_SAYS[one.kind],
        where=where,
        href=href,
        versions=tuple(_version(side, one, house, system) for side in one.sides),
        hint=_hint(one, system),
        keep=keep,
        only=only,
        sealed=one.sealed,
    )


_SAYS = {
    "corrections": "was put right on two laptops that did not know of each other.",
    "readings": "differs between two laptops.",
    "sealed_twice": "was closed on two laptops that did not know of each other.",
    "after_seal": "was closed on one laptop while another went on writing in it.",
}


def _number(count: int) -> str:
    return {2: "two", 3: "three", 4: "four"}.get(count, str(count))


def _title(one: Clash) -> str:
    """Return what the clash is about."""
    content = one.about.content
    if one.kind in ("sealed_twice", "after_seal"):
        return "The visit"
    if one.about.kind == "reading":
        state = words.STATES[str(content["state"])].lower()
        return ", ".join(part for part in (_quantity(str(content["quantity"])), state) if part)
    named = content.get("tag") or content.get("name") or content.get("slot") or content.get("text") or ""
    kind = one.about.kind.replace("_", " ").capitalize()
    said = str(named) if len(str(named)) <= 80 else f"{str(named)[:78].rstrip()} \N{HORIZONTAL ELLIPSIS}"
    return f"{kind}: {said}" if said else kind


def _quantity(name: str) -> str:
    return registered(name).title if name in quantities() else name


def _version(side: Side, clash: Clash, house: House, system: System) -> Version:
    """Return one side in words."""
    entry, kept = side.entry, side.reading
    here = entry.device == house.records.settings.device
    value, unit, interval, rows = "", "", "", []
    if kept is not None:
        value, unit = kept.as_typed or "not taken", ""
        if kept.reading is not None:
            said = shown(kept.reading, system)
            value, unit = said.value, said.unit
            interval = said.interval if reading_interval(kept.reading) else ""
            rows.append(("Typed", kept.as_typed))
        rows.append(("Taken with" if kept.instrument else "Said by", brief(kept.said_by)))
        rows.append(("Where", place_words(kept.place)))
        if clash.kind == "after_seal":
            rows.insert(0, ("Quantity", _quantity(kept.quantity)))
        if kept.note:
            rows.append(("Note", kept.note))
    elif clash.kind == "sealed_twice":
        value = f"{len(entry.content['entries'])} entries"
        rows = [
            ("Digest", str(entry.content["digest"])[:16]),
            ("Statement", str(entry.content.get("statement") or "–")),
        ]
    elif clash.kind == "after_seal":
        note = next((str(entry.content[name]) for name in ("says", "text", "caption") if entry.content.get(name)), "")
        rows = [(entry.kind.replace("_", " ").capitalize(), note or _plain(dict(entry.content)))]
    else:
        rows = _differing(side, clash)
    return Version(
        id=entry.id,
        who=clean(entry.who),
        when=f"{words.day_short(entry.at)}, {words.clock(entry.at)}",
        laptop="this laptop" if here else f"another laptop ({clean(entry.device[:6])})",
        value=clean(value),
        unit=unit,
        interval=interval,
        rows=tuple((name, clean(said)) for name, said in rows),
        stands=side.stands,
    )


def _differing(side: Side, clash: Clash) -> list[tuple[str, str]]:
    """Return the fields in which the sides differ, as this side has them."""
    contents = [one.entry.content for one in clash.sides]
    names = sorted({name for one in contents for name in one})
    differ = [name for name in names if any(one.get(name) != contents[0].get(name) for one in contents)]
    return [(name.replace("_", " ").capitalize(), _plain(side.entry.content.get(name))) for name in differ[:12]]


def _plain(value: Any) -> str:
    """Return a value of an entry as text."""
    if value is None or value == "":
        return "–"
    if isinstance(value, dict):
        return ", ".join(f"{name.replace('_', ' ')} {_plain(one)}" for name, one in value.items())
    if isinstance(value, (list, tuple)):
        return ", ".join(_plain(one) for one in value) or "–"
    return str(value)[:200]


def _hint(one: Clash, system: System) -> str:
    """Return what helps to decide."""
    if one.kind == "sealed_twice":
        return (
            "Both closings stay in the record. Entries that only the later one lists are shown as added after the seal."
        )
    if one.sealed:
        return "A sealed visit is not changed. The addendum names these entries, with your name and reason."
    after = "What is not chosen stays in the record, struck through, with your name and reason."
    taken = [side.reading for side in one.sides if side.reading]
    values = [float(kept.value) for kept in taken if kept.value is not None]
    if one.chance is None or len(values) < 2 or taken[0].quantity not in quantities():
        return after
    known = registered(taken[0].quantity)
    apart = _apart(max(values) - min(values), known, system)
    verdict = "more than both doubts allow" if one.chance < 0.05 else "within both doubts"
    places = {kept.place for kept in taken}
    elsewhere = " They were taken at different places." if len(places) > 1 else ""
    return f"They differ by {apart}, {verdict} ({chance(one.chance)} by chance).{elsewhere} {after}"


def _apart(difference: float, known: Any, system: System) -> str:
    """Return an amount of difference in the reader's unit: the factor of the unit, never its zero."""
    from asfound.quantities.units import unit

    symbol = known.display(system)
    return f"{difference / unit(symbol).factor:.2g} {'' if symbol == '1' else symbol}".strip()


ROUTES = [
    Route("/hand-over", show_hand_over),
    Route("/hand-over.zip", send_bundle),
    Route("/hand-over", acting(send_locked_bundle), methods=["POST"]),
    Route("/settle", show_settle),
    Route("/settle", acting(keep_settled), methods=["POST"]),
]
