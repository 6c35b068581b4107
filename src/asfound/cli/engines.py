"""`asfound engines`, `engine`, `site`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import App, Parameter

from asfound.cli.answer import answer, coloured, columns
from asfound.cli.find import engine_name, kept, opened, site_of, writer
from asfound.cli.options import Hand, Home
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from asfound.fitout.identification import Identification
    from asfound.records.store import Records
    from asfound.records.summary import Summary
    from asfound.records.things import EngineRecord, VisitRecord

engine = App(name="engine")
site = App(name="site")


def engines(where: Home = Home()) -> None:
    """List the engines: what the plate says, what is believed, the last visit."""
    records = opened(where)
    rows = _rows(records)
    head = ("engine", "site", "plate says", "believed", "visits", "last", "open")
    shown = [
        (r["tag"], r["site"], r["plate_says"], r["believed"], r["visits"], r["last"], "open" if r["open"] else "")
        for r in rows
    ]
    answer(where, rows, lambda: columns(shown, head, right=(4,)) if rows else ["No engine yet: asfound engine add TAG"])


def believed(identification: Identification) -> str:
    """Return what is fitted in few words, and how sure that is where anything was weighed."""
    from asfound.fitout.identification import short_title

    chance = identification.builds[0].probability if identification.weighed else None
    return _believed(short_title(identification), chance, identification.words)


def _believed(title: str, probability: float | None, said: str) -> str:
    from asfound.quantities.display import chance

    if probability is None:
        return title
    sure = f"{title}, {chance(probability)}"
    return sure if said == title.lower() else f"{sure}, {said}"


AT_ONCE = 40
"""So many visits a list works out; of more it says what is kept, for each takes some tenths of a second."""
NOT_YET = "not worked out yet"


def _rows(records: Records) -> list[dict[str, Any]]:
    """Return what the list says of each engine; what its newest visit made believed is taken from what is kept."""
    from asfound.records.summary import known_summaries, work_out_summary

    engines = records.engines()
    records.read_ahead([one.id for one in engines])
    with records.steady():
        newest = {one.id: visits[-1] for one in engines if (visits := records.visits(one.id))}
        known = known_summaries(records, list(newest.values()))
        new = [one for one in newest.values() if one.id not in known]
        if len(new) <= AT_ONCE:
            known |= {one.id: work_out_summary(records, one) for one in new}
        return [_row(records, one, newest.get(one.id), known) for one in engines]


def _row(
    records: Records, one: EngineRecord, newest: VisitRecord | None, known: Mapping[str, Summary]
) -> dict[str, Any]:
    visits = records.visits(one.id)
    summary = known.get(newest.id) if newest else None
    plate = one.content.get("plate", {})
    return {
        "id": one.id,
        "tag": one.tag,
        "site": one.site.name if one.site else "",
        "plate_says": " ".join(str(plate[k]) for k in ("family", "works_number", "generation") if plate.get(k)),
        "believed": _believed(summary.believed, summary.chance, summary.words)
        if summary
        else NOT_YET
        if newest
        else "",
        "visits": len(visits),
        "last": visits[-1].name if visits else "",
        "open": bool(visits) and visits[-1].sealed is None,
    }


@engine.command
def show(tag: str, /, *, where: Home = Home()) -> None:
    """Show an engine: its facts, limits and visits.

    Parameters
    ----------
    tag
        What the site calls the engine.
    """
    records = opened(where)
    one = records.engine(tag)
    limits = [entry for entry in records.fold(one.id).current if entry.kind == "limit"]
    visits = records.visits(one.id)
    data = {
        "id": one.id,
        "site": dict(one.site.content) if one.site else None,
        "engine": dict(one.content),
        "limits": [kept(entry) for entry in limits],
        "visits": [{"id": v.id, "visit": v.name, "began": v.began, "sealed": v.sealed is not None} for v in visits],
    }

    def told() -> Iterator[str]:
        yield coloured(engine_name(one), "head")
        yield from columns(
            [(f"  {name}", _plain(value)) for name, value in one.content.items() if value not in ("", None, {})]
        )
        yield coloured("Limits", "head")
        yield from columns(
            [
                (f"  {e.content['name']}", e.content["quantity"], e.content["as_typed"], e.content.get("text", ""))
                for e in limits
            ]
        )
        yield coloured("Visits", "head")
        yield from columns(
            [(f"  {v.name}", "sealed" if v.sealed else "open", v.entry.content.get("purpose", "")) for v in visits]
        )

    answer(where, data, told)


def _plain(value: Any) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{k} {_plain(v)}" for k, v in value.items() if v not in ("", None, {}))
    return str(value)


@engine.command
def add(
    tag: str,
    /,
    *,
    site: str = "",
    family: str = "",
    works_number: str = "",
    driven: Literal["generator", "compressor", "pump", "other", ""] = "",
    driven_text: str = "",
    inline: int | None = None,
    vee: int | None = None,
    angle: float | None = None,
    first_at: Literal["free_end", "driving_end"] = "free_end",
    turbochargers: int | None = None,
    turbochargers_at: Literal["free_end", "driving_end", ""] = "",
    catalyst: Annotated[bool | None, Parameter(negative="--no-catalyst")] = None,
    bearings: int | None = None,
    bearings_measured: Annotated[bool | None, Parameter(negative="--bearings-not-measured")] = None,
    plate: tuple[str, ...] = (),
    rule: tuple[str, ...] = (),
    derating: Path | None = None,
    in_store: tuple[str, ...] = (),
    paper: tuple[str, ...] = (),
    catalogue: str = "",
    note: str = "",
    correct: bool = False,
    hand: Hand = Hand(),
) -> None:
    """Add an engine, or put its facts right with --correct.

    Parameters
    ----------
    tag
        What the site calls it.
    site
        Name of a site.
    family
        Family as believed; what the plate says goes under --plate.
    works_number
        Works number as believed.
    driven
        What it drives.
    driven_text
        The same in the site's words.
    inline
        Number of cylinders in one row.
    vee
        Number of cylinders in two rows.
    angle
        Angle between the rows in degrees.
    first_at
        End where cylinder 1 stands.
    turbochargers
        How many.
    turbochargers_at
        At which end.
    catalyst
        Whether there is one.
    bearings
        Main bearings.
    bearings_measured
        Whether bearing temperatures are measured.
    plate
        What the nameplate says, as name=text: family, works_number, generation.
    rule
        What general rules ask of it, as name=text: jurisdictions=US, fuel=natural_gas, burn=lean, made=2009-06-15.
    derating
        File with what its maker lets it give in other air and on other gas; docs/power.md shows its form.
    in_store
        Part of the catalogue that lies in the store for this engine; several.
    paper
        Document found in the cupboard, with its revision: 'MV-a c'; several.
    catalogue
        Folder of the catalogue that knows its builder, under the home or absolute.
    note
        Anything else.
    correct
        The engine is here already: change what is given, keep the rest.
    """
    records = opened(hand, begin=True)
    if inline is not None and vee is not None:
        raise InputError("vee", str(vee), "cannot be given with --inline", try_next="Say one of them.")
    said: dict[str, Any] = {
        "tag": tag, "family": family, "works_number": works_number, "driven": driven, "driven_text": driven_text,
        "catalyst": catalyst, "bearings": bearings, "bearings_measured": bearings_measured, "catalogue": catalogue,
        "note": note,
        "site": site_of(records, site) if site else None,
        "in_store": list(in_store),
        "papers": list(paper),
        "derating": _kept_derating(records, derating, family) if derating else None,
        "plate": dict(_name_and_text(one, "plate", "family=..., works_number=..., generation=...") for one in plate),
        "rules": _rules(rule),
    }  # fmt: skip
    if inline or vee:
        said["layout"] = {"form": "vee" if vee else "inline", "cylinders": vee or inline, "angle": angle}
    if turbochargers is not None:
        said["turbochargers"] = {"count": turbochargers, "end": turbochargers_at}
    if first_at != "free_end":
        said["numbering"] = {"first_at": first_at}
    content = {name: value for name, value in said.items() if value not in (None, "", {}, [])}
    known = [one for one in records.engines() if one.tag == tag]
    if known and not correct:
        raise InputError("tag", tag, "is here already", try_next="To put its facts right, say --correct.")
    if correct:
        before = records.engine(tag)
        plate_now = {**before.content.get("plate", {}), **content.get("plate", {})}
        rules_now = {**before.content.get("rules", {}), **content.get("rules", {})}
        entry = records.append(
            "engine",
            {**before.content, **content, "plate": plate_now, "rules": rules_now},
            engine=before.id,
            corrects=before.entry.id,
            who=writer(hand, records),
        )
    else:
        entry = records.append("engine", content, who=writer(hand, records))
    answer(hand, kept(entry), lambda: [f"{'Put right' if correct else 'Added'}: {tag}"])


def _name_and_text(word: str, field: str, allowed: str) -> tuple[str, str]:
    name, equals, text = word.partition("=")
    if not equals:
        raise InputError(field, word, "is not name=text", allowed=allowed)
    return name, text


def _kept_derating(records: Records, path: Path, family: str) -> str:
    """Keep a file of derate tables, after it was read without complaint, and return its digest."""
    from asfound.power.derating_file import read_derating

    try:
        content = path.read_bytes()
    except OSError as fault:
        raise InputError("derating", str(path), f"cannot be read: {fault.strerror}") from None
    tables = read_derating(content.decode("utf-8", "replace"), file=str(path))
    if family:
        tables.of(family)
    return records.attach(content, path.name, "application/yaml")


def _rules(words: tuple[str, ...]) -> dict[str, str]:
    """Return what rules ask for by name; refuse what no rule asks, or cannot be an answer."""
    if not words:
        return {}
    from asfound.exhaust.rule_facts import FACTS, EngineFacts

    said = dict(_name_and_text(one, "rule", ", ".join(f"{name}=..." for name in FACTS)) for one in words)
    EngineFacts.of(said)
    return said


@site.command(name="add")
def add_site(
    name: str,
    /,
    *,
    height: str = "",
    units: Literal["si", "us"] = "si",
    zone: str = "Z",
    owner: str = "",
    climate: str = "",
    network: str = "",
    cautions: str = "",
    hand: Hand = Hand(),
) -> None:
    """Add a site.

    Parameters
    ----------
    name
        Its name.
    height
        Above sea level, with its unit: '1460 m', '4790 ft'.
    units
        Units that the people there use: si or us.
    zone
        Offset of the site's clocks from UTC: -06:00, or Z.
    owner
        Who runs it.
    climate
        In words.
    network
        In words.
    cautions
        What the site asks of whoever works there.
    """
    from asfound.quantities.parse import parse_amount

    records = opened(hand, begin=True)
    content: dict[str, Any] = {
        "name": name,
        "units": units,
        "zone": zone,
        "owner": owner,
        "climate": climate,
        "network": network,
        "cautions": cautions,
    }
    if height:
        content["height"] = parse_amount(height, quantity="site_height", field="height").value
    entry = records.append("site", content, who=writer(hand, records))
    answer(hand, kept(entry), lambda: [f"Added: {name}"])


@site.command(name="list")
def list_sites(where: Home = Home()) -> None:
    """List the sites."""
    every = list(opened(where).sites().values())
    rows = [
        (one.name, one.content.get("units", ""), one.content.get("zone", ""), one.content.get("climate", ""))
        for one in every
    ]
    data = [{"id": one.id, **one.content} for one in every]
    answer(where, data, lambda: columns(rows, ("site", "units", "zone", "climate")))
