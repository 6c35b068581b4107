"""Entries of kind ``reading`` and ``limit`` as the sheet takes them: with their uncertainty, one per key."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.quantities.instruments import Spec, class_for, instrument_class, standard_uncertainty
from asfound.quantities.register import quantities
from asfound.quantities.words import Limit, Reading
from asfound.records.limits_at_oxygen import stated
from asfound.records.view_parts import KeptReading

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from asfound.records.entries import Entry
    from asfound.records.fold import Fold
    from asfound.records.things import SiteRecord, Thing

SITE_HEIGHT = "site_height"


def kept(folded: Fold, instruments: Mapping[str, Thing]) -> list[KeptReading]:
    """Return every reading that stands, by time and identifier."""
    clashing = {entry.id for conflict in folded.conflicts for entry in conflict.stand}
    found = [_kept(one, instruments, one.id in clashing) for one in folded.current if one.kind == "reading"]
    false = _judged_false(folded)
    marked = [replace(one, judged_false=false[one.entry.id]) if one.entry.id in false else one for one in found]
    return sorted(marked, key=_order)


def _judged_false(folded: Fold) -> dict[str, Entry]:
    """Return by reading the judgement that it is false, where the last one says so."""
    last = {str(one.content["about"]): one for one in folded.current if one.kind == "reading_judged"}
    return {about: one for about, one in last.items() if one.content["verdict"] == "false"}


def latest(readings: Iterable[KeptReading]) -> dict[str, KeptReading]:
    """Return the reading that holds at each key: the last taken; of two taken at one time the one written last."""
    found: dict[str, KeptReading] = {}
    for one in sorted(readings, key=_order):
        before = found.get(one.key)
        found[one.key] = one if before is None else replace(one, earlier=(*before.earlier, before.entry.id))
    return found


def of_the_site(site: SiteRecord | None, time: str, there: Mapping[str, KeptReading]) -> list[Reading]:
    """Return what the sheet takes from the site's own entry, where nobody took it on the visit: its height."""
    height = site.content.get("height") if site else None
    if site is None or height is None or any(one.quantity == SITE_HEIGHT for one in there.values()):
        return []
    reading = Reading(
        quantity=SITE_HEIGHT,
        place="site",
        state="as_found",
        time=time,
        value=float(height),
        unit="m",
        as_typed=f"{height:g} m",
        standard_uncertainty=5.0 / 3**0.5,
        distribution="rectangular",
        origin="typed",
        said_by=f"site {site.name}",
        entry=site.entry.id,
    )
    return [reading]


def limits_on(folded: Fold, day: str) -> tuple[Limit, ...]:
    """Return the limits in force on a day."""
    return tuple(
        Limit(
            quantity=str(content["quantity"]),
            value=float(content["value"]),
            as_typed=str(content["as_typed"]),
            side=content.get("side", "upper"),
            place=str(content.get("place", "")),
            name=str(content.get("name", "permit")),
            text=str(content.get("text", "")),
            basis=str(content.get("basis", "")),
            entry=entry.id,
            reference_oxygen=stated(str(content["quantity"]), str(content["as_typed"]), str(content.get("basis", ""))),
        )
        for entry in folded.current
        if entry.kind == "limit"
        and (content := entry.content)
        and str(content.get("valid_from", "")) <= day <= str(content.get("valid_to", "9999"))
    )


def _order(one: KeptReading) -> tuple[float, str]:
    """Return the sort key: the moment it was taken, then the identifier."""
    from datetime import datetime

    return datetime.fromisoformat(one.time).timestamp(), one.entry.id


def _kept(entry: Entry, instruments: Mapping[str, Thing], clash: bool) -> KeptReading:
    """Return an entry as a reading."""
    content = entry.content
    instrument = instruments.get(str(content.get("instrument")))
    quantity, value, time = str(content["quantity"]), content.get("value"), str(content["time"])
    spec, usual = _specification(instrument, quantity)
    uncertainty, shared_with, shared = 0.0, "", 0.0
    distribution = content.get("distribution")
    if content.get("standard_uncertainty") is not None:
        uncertainty = float(content["standard_uncertainty"])
    elif value is not None and spec is not None:
        uncertainty = _of_instrument(spec, instrument, float(value), time)
        distribution = distribution or spec.distribution
    if instrument is not None and spec is not None and not usual:
        shared_with, shared = f"{instrument.id}/{quantity}", spec.shared_fraction
    said_by = _said_by(entry, instrument, usual and "standard_uncertainty" not in content)
    reading = None
    known = quantity in quantities()  # an entry of a newer program may bring one that is not: shown as it was typed
    if known and value is not None and not content.get("missing") and not content.get("censored"):
        reading = Reading(
            quantity=quantity,
            place=str(content["place"]),
            state=content["state"],
            time=time,
            value=float(value),
            unit=quantities()[quantity].si_unit,
            as_typed=str(content["as_typed"]),
            standard_uncertainty=uncertainty,
            origin=content.get("origin", "measured"),
            said_by=said_by,
            distribution=distribution or "normal",
            gauge=bool(content.get("gauge")),
            shared_with=shared_with,
            shared_fraction=shared,
            entry=entry.id,
        )
    return KeptReading(
        key=f"{content['state']}/{content['place']}/{quantity}",
        entry=entry,
        reading=reading,
        quantity=quantity,
        place=str(content["place"]),
        state=content["state"],
        time=time,
        as_typed=str(content["as_typed"]),
        unit=str(content.get("unit", "")),
        value=value,
        gauge=bool(content.get("gauge")),
        censored=content.get("censored", ""),
        bound=content.get("bound"),
        missing=bool(content.get("missing")),
        standard_uncertainty=uncertainty,
        instrument=instrument,
        said_by=said_by,
        note=str(content.get("note", "")),
        clash=clash,
        earlier=(),
        reference_oxygen=_level(content),
    )


def _level(content: Mapping[str, Any]) -> float | None:
    """Return the level of oxygen that a reading is counted at: as kept, else as its text says it."""
    level = content.get("reference_oxygen")
    return float(level) if level is not None else stated(str(content["quantity"]), str(content["as_typed"]), "")


def _specification(instrument: Thing | None, quantity: str) -> tuple[Spec | None, bool]:
    """Return what the instrument claims for a quantity; True: none is known, it is what such instruments usually do."""
    stated = (instrument.content.get("specs") or {}).get(quantity) if instrument else None
    if stated is not None:
        return Spec(**stated), False
    generic = class_for(quantity)
    return (instrument_class(generic).specs[quantity], True) if generic else (None, False)


def _of_instrument(spec: Spec, instrument: Thing | None, value: float, time: str) -> float:
    """Return the standard uncertainty of a reading on its day."""
    day = date.fromisoformat(time[:10])
    calibrated = _calibrated(instrument)
    if calibrated is not None and calibrated > day:  # the one that held then is not known; ``doubts`` says so
        calibrated = None
    found: float = standard_uncertainty(spec, value, on=day, calibrated=calibrated)
    return found


def _calibrated(instrument: Thing | None) -> date | None:
    """Return the day of the calibration that is kept for an instrument."""
    day = instrument.content.get("calibrated") if instrument else None
    return date.fromisoformat(day) if day else None


def doubts(readings: Iterable[KeptReading]) -> list[str]:
    """Return in words which instruments were calibrated after they were read, each once."""
    said = {}
    for one in readings:
        calibrated = _calibrated(one.instrument)
        if one.instrument is not None and calibrated is not None and calibrated > date.fromisoformat(one.time[:10]):
            said[one.instrument.id] = (
                f"{one.instrument.content['name']}: its calibration of {calibrated} is later than readings of this "
                "visit. They are taken as if the calibration before it were not known, with the usual drift."
            )
    return list(said.values())


def _said_by(entry: Entry, instrument: Thing | None, usual: bool) -> str:
    """Return who or what says so: instrument with serial, else source, else person."""
    if instrument is not None:
        serial = instrument.content.get("serial")
        said = str(instrument.content["name"]) + (f", {serial}" if serial else "")
    else:
        said = str(entry.content.get("instrument_text") or entry.content.get("source") or entry.who)
    return f"{said} (doubt as usual for such instruments)" if usual else said
