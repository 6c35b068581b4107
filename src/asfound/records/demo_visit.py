"""One demo visit: its file and its story of looks, turned into entries in the order in which they happened."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from asfound.fitout.observations import story
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantity
from asfound.records.entries import sha256
from asfound.records.store import Draft
from asfound.sources.tables import load_yaml, read_text

LIMITS = {
    "g/hp-h": {"nox": "nox_mass_per_energy", "co": "co_mass_per_energy"},
    "mg/m3(n)": {"nox": "nox_mass_concentration", "co": "co_mass_concentration"},
}
BASIS = {"g/hp-h": "hour average", "mg/m3(n)": "half-hour average, dry, at 5 % oxygen"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """Identifiers of what the world's entries began."""

    sites: Mapping[str, str]
    engines: Mapping[str, str]
    instruments: Mapping[str, str]
    zones: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing that happened."""

    time: datetime
    visit: str
    who: str
    what: str = "entry"
    draft: Draft | None = None
    name: str = ""
    """By which a later correction finds it."""
    statement: str = ""
    files: tuple[tuple[bytes, str, str], ...] = ()


def actions(name: str, names: Names, now: datetime) -> Iterator[Action]:
    """Yield everything that happened on a demo visit before a moment of the story; nothing where it began later."""
    given = load_yaml("asfound.records", f"data/demo/visit_{name}.yaml")
    zone = names.zones[given["engine"]]
    if datetime.fromisoformat(str(given["began"]) + zone) > now:
        if "told_early" not in given:
            return
        given = _told_early(given)
    for one in _Visit(name, given, names).all():
        if one.time <= now:
            yield one


def _told_early(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return a visit moved to the day on which it is told where the story's clock stands before it."""
    day, take = given["told_early"]["day"], given["told_early"]["take"]
    moved = {name: f"{day}{given[name][10:]}" for name in ("began", "permit_until")}
    readings = [
        {**group, "take": {key: take.get(key, typed) for key, typed in group["take"].items()}}
        for group in given["readings"]
    ]
    return {**given, **moved, "readings": readings}


class _Visit:
    """A visit's file on its way to entries."""

    def __init__(self, name: str, given: Mapping[str, Any], names: Names) -> None:
        self.name, self.given, self.names = name, given, names
        self.zone = names.zones[given["engine"]]
        self.day = str(given["began"])[:10]
        self.who = str(given["who"])

    def all(self) -> Iterator[Action]:
        yield self.action(
            self.given["began"][11:],
            "visit_opened",
            {
                "began": str(self.given["began"]) + self.zone,
                "purpose": self.given["purpose"],
                "people": self.given["people"],
                **({"permit_until": self.given["permit_until"] + self.zone} if "permit_until" in self.given else {}),
            },
            engine=self.names.engines[self.given["engine"]],
        )
        for one in self.given.get("events", ()):
            yield self.action(one["time"], "visit_state", {**one, "time": self.at(one["time"])})
        yield from self.looks()
        yield from self.readings()
        for one in self.given.get("settings", ()):
            yield self.action(one["time"], "setting", {**one, "time": self.at(one["time"])})
        for one in self.given.get("proposed", ()):
            yield self.action(one["time"], "proposed_setting", {**one, "time": self.at(one["time"])})
        for one in self.given.get("notes", ()):
            yield self.action(one["time"], "note", {**one, "time": self.at(one["time"])})
        for one in self.given.get("open_points", ()):
            content = {key: one[key] for key in one if key not in ("time", "label")}
            yield self.action(one["time"], "open_point", content, label=str(one.get("label", "")))
        for one in self.given.get("cylinder_looks", ()):
            yield self.action(one["time"], "cylinder_look", {**one, "time": self.at(one["time"])})
        for one in self.given.get("trouble", ()):
            told = {key: value for key, value in one.items() if key != "kind"}
            yield self.action(one["time"], one["kind"], {**told, "time": self.at(one["time"])})
        for one in self.given.get("photos", ()):
            yield self.photo(one)
        for one in self.given.get("engine_corrections", ()):
            yield self.engine_correction(one)
        yield from self.closing()

    def looks(self) -> Iterator[Action]:
        for look in story(self.given["story"]).looks if "story" in self.given else ():
            content = {key: value for key, value in look.as_dict().items() if key != "entry"}
            time = datetime.fromisoformat(look.time)
            yield Action(time=time, visit=self.name, who=self.who, draft=Draft(kind="look", content=content))
        for one in self.given.get("looks", ()):
            yield self.action(one["time"], "look", {**one, "time": self.at(one["time"])})

    def readings(self) -> Iterator[Action]:
        corrected = {one["of"]: one for one in self.given.get("corrections", ())}
        for group in self.given.get("readings", ()):
            for key, typed in group["take"].items():
                place, name = key.split("/")
                content = self.reading(group, place, name, str(typed))
                full = f"{group['state']}/{key}"
                fix = corrected.get(full)
                if fix is None:
                    yield self.action(group["time"], "reading", content)
                    continue
                first = {**content, **_amount(str(fix["typed_first"]), name, full)}
                yield self.action(group["time"], "reading", first, label=full)
                yield self.action(fix["time"], "reading", {**content, "note": fix["note"]}, corrects=full)

    def reading(self, group: Mapping[str, Any], place: str, name: str, typed: str) -> dict[str, Any]:
        content: dict[str, Any] = {
            "quantity": name,
            "place": place,
            "state": group["state"],
            "time": self.at(group["time"]),
            "source": str(group.get("source", "")),
        }
        if "minutes" in group:
            content["minutes"] = group["minutes"]
        if "instrument" in group:
            content["instrument"] = self.names.instruments[group["instrument"]]
        if "missing" in group:
            return {**content, "as_typed": typed, "missing": True, "note": group["missing"]}
        return {**content, **_amount(typed, name, f"{place}/{name}")}

    def photo(self, one: Mapping[str, Any]) -> Action:
        picture = _picture([str(line) for line in one["shows"]])
        filename = f"{self.given['engine']}_{self.day}_{one['time'].replace(':', '')}.png"
        content = {key: one[key] for key in ("caption", "place", "step", "state") if key in one}
        content |= {"digest": sha256(picture), "size": len(picture), "filename": filename}
        content |= {"media_type": "image/png", "time": self.at(one["time"])}
        return self.action(one["time"], "photo", content, files=((picture, filename, "image/png"),))

    def engine_correction(self, one: Mapping[str, Any]) -> Action:
        world = load_yaml("asfound.records", "data/demo/world.yaml")["engines"][self.given["engine"]]
        engine_id = self.names.engines[self.given["engine"]]
        right = {**world, "works_number": one["works_number"], "note": one["note"]}
        content = engine(self.given["engine"], right, self.names.sites)
        return self.action(one["time"], "engine", content, corrects=engine_id)

    def closing(self) -> Iterator[Action]:
        if "seal" in self.given:
            closing = self.given["seal"]
            yield Action(
                time=self.moment(closing["time"]), visit=self.name, who=self.who, what="seal",
                statement=closing["statement"],
            )  # fmt: skip
        for one in self.given.get("addenda", ()):
            time = f"{one['time']}:00{self.zone}"
            draft = Draft(kind="addendum", content={"says": one["says"], "time": time})
            yield Action(time=datetime.fromisoformat(time), visit=self.name, who=one["who"], draft=draft)

    def action(
        self,
        time: str,
        kind: str,
        content: Mapping[str, Any],
        *,
        engine: str | None = None,
        corrects: str | None = None,
        label: str = "",
        files: tuple[tuple[bytes, str, str], ...] = (),
    ) -> Action:
        draft = Draft(kind=kind, content=dict(content), engine=engine, corrects=corrects)
        return Action(time=self.moment(time), visit=self.name, who=self.who, draft=draft, name=label, files=files)

    def at(self, time: str) -> str:
        return f"{self.day}T{time}:00{self.zone}"

    def moment(self, time: str) -> datetime:
        return datetime.fromisoformat(self.at(time))


def instrument(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the content of an instrument whose figures are written with their units."""
    specs = {
        name: {key: _si(value, name) if key in ("absolute", "resolution") else value for key, value in spec.items()}
        for name, spec in given["specs"].items()
    }
    return {**{key: str(value) if key == "calibrated" else value for key, value in given.items()}, "specs": specs}


def engine(tag: str, given: Mapping[str, Any], sites: Mapping[str, str]) -> dict[str, Any]:
    """Return the content of an engine whose rating is written with its units."""
    rated = given["rated"]
    content = {key: value for key, value in given.items() if key != "limits"}
    content["tag"] = tag
    content["derating"] = sha256(read_text("asfound.power", "data/demo_derate.yaml").encode())
    content["site"] = sites[given["site"]]
    content["rated"] = {
        "power": _si(rated["power"], "rated_power"),
        "speed": _si(rated["speed"], "rated_speed"),
        "text": rated["text"],
    }
    return content


def limit(tag: str, text: str) -> dict[str, Any]:
    """Return the content of a limit written as ``nox 1.0 g/hp-h``."""
    species, typed = text.split(" ", 1)
    unit = typed.split(" ", 1)[1]
    name = LIMITS[unit][species]
    return {
        "quantity": name,
        "value": _si(typed, name),
        "as_typed": typed,
        "name": "permit",
        "text": f"permit of {tag} (invented)",
        "basis": BASIS[unit] + (", NOx as NO2" if name.startswith("nox") else ""),
    }


def _si(typed: Any, name: str) -> float:
    """Return a figure that is written with its unit in SI."""
    value = parse_amount(str(typed), quantity=name, decimal=".").value
    assert value is not None
    return float(value)


def _amount(typed: str, name: str, field: str) -> dict[str, Any]:
    """Return the fields of a reading that come from what was typed."""
    unit = "1" if quantity(name).si_unit == "1" else None
    amount = parse_amount(typed, quantity=name, field=field, decimal=".", default_unit=unit)
    return {"as_typed": typed, "value": amount.value, "unit": amount.unit, "gauge": amount.gauge}


def _picture(lines: list[str]) -> bytes:
    """Return a plain picture that says what a photo would show; the demo has no photographs."""
    from PIL import Image, ImageDraw, ImageFont

    picture = Image.new("RGB", (640, 420), "#c9d2cf")
    draw = ImageDraw.Draw(picture)
    draw.rectangle((60, 60, 580, 360), fill="#eef2f0", outline="#51635e", width=4)
    for at, line in enumerate(lines):
        font = ImageFont.load_default(size=46 if at == 0 else 28)
        draw.text((96, 110 + 70 * at), line, fill="#10201d", font=font)
    draw.text((60, 378), "drawn for the demo, no photograph", fill="#374844", font=ImageFont.load_default(size=18))
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()
