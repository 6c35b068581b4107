"""Engineering and upgrade: the build as found, the gap to the target, the envelope of load and of gas."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from asfound.fitout.identification import short_title
from asfound.quantities.display import chance
from asfound.quantities.register import quantities
from asfound.quantities.words import STATES
from asfound.report import content_fitted, content_fuel, content_load
from asfound.report.content_lanes import number_at
from asfound.report.readers.blocks import Cell, Data, Document, Drawn, Head, Lack, Lines, Pairs, Row, Rows, Says
from asfound.report.readers.making import Reader
from asfound.report.readers.said import count
from asfound.report.wording import named, say, sentence

if TYPE_CHECKING:
    from asfound.fitout.identification import Identification
    from asfound.quantities.words import Reading, Result
    from asfound.report.readers.blocks import Block
    from asfound.report.readers.ground import Ground

LOAD = (
    "site_rated_power", "engine_power", "load_fraction", "engine_speed", "brake_mean_effective_pressure",
    "brake_efficiency", "heat_rate", "brake_specific_fuel_consumption", "manifold_pressure", "manifold_temperature",
    "ambient_temperature", "barometric_pressure", "site_height",
)  # fmt: skip
GAS = (
    "methane_number", "methane_number_needed", "methane_number_margin", "net_heating_value", "wobbe_index",
    "net_wobbe_index", "fuel_relative_density", "fuel_hydrogen_sulfide", "fuel_hydrogen_sulphide", "fuel_pressure",
    "fuel_temperature", "fuel_hydrocarbon_dew_high", "stoichiometric_air",
)  # fmt: skip
MIXTURE = ("excess_air_ratio", "excess_air_ratio_for_permit", "ignition_timing", "exhaust_oxygen_dry")
COLUMNS = (
    "engine", "site", "works_number", "build", "build_chance", "number", "slot", "place", "fitted", "variant", "chance",
    "else", "belongs", "looked", "how", "label", "notes", "entries",
)  # fmt: skip


def make(ground: Ground) -> Document:
    """Return the build sheet, the gap and the envelopes."""
    view, found = ground.view, ground.view.identification
    blocks: list[Block] = [Pairs(rows=tuple(_engine(ground)))]
    if found is not None and _seen(found):
        plan = content_fitted.plan(view, width=690, tagged=True)
        blocks += [
            Head(text="As found"),
            Drawn(svg=plan["svg"], alt=plan["alt"], width=672, caption=plan["caption"]),
            Rows(
                columns=("", "Place", "What sits there", "Belief", "How it was seen"),
                rows=tuple(_places(ground)),
                shares=(0.3, 1.3, 2, 0.9, 1.4),
            ),
        ]
        odd = [(one.says, f"{one.code}; {one.next_step}") for one in found.contradictions]
        if odd:
            blocks += [Head(text="Does not agree"), Lines(rows=tuple(odd))]
    if settings := tuple(_settings(ground)):
        blocks += [
            Head(text="Settings and files"),
            Rows(columns=("Setting", "As found", "As left", "Note"), rows=settings, shares=(1.2, 1, 1, 1.6)),
        ]
    blocks += _gap(ground)
    for title, names, says in (
        ("Load", LOAD, _rating(ground)),
        ("Gas", GAS, _gas(ground)),
        ("Mixture and timing", MIXTURE, ()),
    ):
        rows = tuple(_numbers(ground, names))
        if rows or says:
            blocks.append(Head(text=title))
        if says:
            blocks.append(Lines(rows=says))
        if rows:
            blocks.append(
                Rows(columns=("Quantity", "As found", "As left", "Method"), rows=rows, shares=(1.4, 1.3, 1.3, 1.6))
            )
    return Document(
        headline=_headline(ground),
        lead=_lead(ground),
        blocks=tuple(blocks),
        lacks=tuple(_lacks(ground)),
        data=Data(columns=COLUMNS, rows=tuple(_data(ground))),
        facts={"numbers": list(_facts(ground)), "gap": _gap_fact(ground)},
    )


def _lead(ground: Ground) -> str:
    found = ground.view.identification
    if found is None or not _seen(found):
        return "Nothing was looked at."
    if ground.view.looks:
        return found.says
    return f"Nothing was looked at on this visit; what an earlier one saw counts on. {found.says}"


def _seen(found: Identification) -> bool:
    """Return whether anything of it was ever looked at, on this visit or before."""
    return any(place.looks for place in found.places)


def _headline(ground: Ground) -> str:
    found = ground.view.identification
    if found is None or not _seen(found):
        return f"{ground.view.engine.tag}: the build was not looked at."
    sure = f", {chance(found.builds[0].probability)}" if found.weighed else ", in no catalogue"
    return f"{ground.view.engine.tag} as found: {short_title(found)}{sure}."


def _engine(ground: Ground) -> Iterator[tuple[str, str]]:
    content = ground.view.engine.content
    plate = content.get("plate") or {}
    rated = content.get("rated") or {}
    layout = content.get("layout") or {}
    form = f"{layout['cylinders']} cylinders, {layout['form']}" if layout else ""
    rows = [
        ("Family", content.get("family")),
        ("Works number", content.get("works_number")),
        ("Layout", form),
        ("Drives", content.get("driven_text") or content.get("driven")),
        ("Rated", rated.get("text")),
        ("Plate says", ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in sorted(plate.items()))),
        ("Running hours", ground.due.hours),
        ("Counted", (content.get("numbering") or {}).get("source")),
        ("Papers in the cupboard", ", ".join(content.get("papers") or ())),
    ]
    yield from (
        (name, str(value) if value else "not on record")
        for name, value in rows
        if value or name in ("Works number", "Rated", "Running hours")
    )


def _places(ground: Ground) -> Iterator[Row]:
    belief = content_fitted.belief(ground.view)
    for one in belief["places"] if belief else ():
        below = "; ".join(
            part for part in (f"else: {one['second']}" if one["second"] else "", one["belongs"], one["notes"]) if part
        )
        yield (
            one["number"],
            one["title"],
            (one["variant"] or "not said", below),
            one["belief"],
            (one["looked"], "; ".join(part for part in (one["how"], one["label"]) if part)),
        )


def _settings(ground: Ground) -> Iterator[Row]:
    by_name: dict[str, dict[str, Any]] = {}
    for one in ground.view.settings:
        by_name.setdefault(str(one.content["name"]), {})[str(one.content["state"])] = one.content
    for name, both in by_name.items():
        cells = [str(both[state]["as_typed"]) if state in both else "not noted" for state in STATES]
        notes = dict.fromkeys(str(one.get("note") or "") for one in both.values())
        yield (name.replace("_", " "), *cells, "; ".join(note for note in notes if note))


def _gap(ground: Ground) -> list[Block]:
    """Return what stands between the build and the target, by the study."""
    study = ground.upgrade
    if study.chosen is None:
        return []
    told: list[Block] = [
        Head(text=f"Gap to {study.chosen.title}"),
        Says(text=study.chosen.says if study.chosen.way else " ".join(study.no_way)),
    ]
    rows = [
        (stop.title, (one.title, "; ".join(one.puts)), one.minutes, " ".join(one.why[:2]))
        for stop in study.stops
        for one in stop.steps
    ]
    if rows:
        told.append(Rows(columns=("When", "Change", "Work", "Why"), rows=tuple(rows), shares=(0.7, 2, 0.6, 1.8)))
    looks = tuple(f"Look first: {one}" for one in study.looks)
    if looks:
        told.append(Lines(rows=looks))
    return told


def _rating(ground: Ground) -> tuple[Cell, ...]:
    rating = content_load.site_rating(ground.view, ground.system)
    return tuple(rating.says) if rating else ()


def _gas(ground: Ground) -> tuple[Cell, ...]:
    said: list[Cell] = []
    gas = content_fuel.gas(ground.view, ground.system)
    if gas is not None:
        age = f", {gas.age} old" if gas.age else ""
        said.append(f"Analysis: {gas.analysed}{age}." if gas.analysed else f"Analysis{age}.")
    knock = content_fuel.knock(ground.view, ground.system)
    if knock is not None:
        said.append(knock.says)
    line = content_fuel.line(ground.view, ground.system)
    if line is not None:
        said += list(line.says)
    found = ground.view.identification
    for one in found.follows.bulletins if found is not None and _seen(found) else ():
        if one.applies:
            said.append((f"{one.id} {one.title}", f"{one.says} {one.because}".strip()))
    return tuple(sentence(one) if isinstance(one, str) else one for one in said)


def _found(ground: Ground, names: tuple[str, ...]) -> Iterator[tuple[str, str, dict[str, Result | Reading]]]:
    """Yield the numbers of these names, by place, with what was found and left."""
    worked = ground.view.worked
    numbers: tuple[Reading | Result, ...] = (*worked.readings, *worked.results)
    for name in names:
        if name not in quantities():
            continue
        for place in sorted(
            {one.place for one in numbers if one.quantity == name and not one.place.startswith("run_")}
        ):
            both: dict[str, Result | Reading] = {
                state: number
                for state in STATES
                if (number := number_at(worked, f"{state}/{place}/{name}")) is not None and number.value == number.value
            }
            if both:
                yield name, place, both


def _numbers(ground: Ground, names: tuple[str, ...]) -> Iterator[Row]:
    for name, place, both in _found(ground, names):
        cells = []
        for state in STATES:
            said = say(both[state], ground.system) if state in both else None
            cells.append((said.whole, said.interval) if said else "not taken")
        one = next(iter(both.values()))
        method = getattr(one, "method", None)
        yield (named(name, place if place != "engine" else ""), *cells, method.name if method else "read")


def _facts(ground: Ground) -> Iterator[dict[str, Any]]:
    for name, place, both in _found(ground, (*LOAD, *GAS, *MIXTURE)):
        yield {
            "quantity": name,
            "place": place,
            **{state: {"value_si": one.value, "unit_si": one.unit} for state, one in both.items()},
        }


def _gap_fact(ground: Ground) -> dict[str, Any] | None:
    study = ground.upgrade
    if study.chosen is None:
        return None
    return {
        "target": study.chosen.title,
        "way": study.chosen.way,
        "money": study.money,
        "cost": study.chosen.cost,
        "stops": [{"title": one.title, "changes": [step.title for step in one.steps]} for one in study.stops],
        "looks_first": list(study.looks),
        "comes_off": [list(one) for one in study.leaves],
    }


def _lacks(ground: Ground) -> Iterator[Lack]:
    view, found = ground.view, ground.view.identification
    if found is None or not _seen(found):
        yield Lack(what="Any look at what is fitted.", fill="Page What is fitted.")
    else:
        bare = [one.title for one in found.places if one.looked == "open" and not one.evidence_only]
        if bare:
            yield Lack(
                what=f"{count(len(bare), 'place')} not looked at: {', '.join(bare[:8]).lower()}"
                f"{' and others' if len(bare) > 8 else ''}.",
                fill="The next looks of page What is fitted.",
            )
    if ground.upgrade.chosen is None:
        yield Lack(what="The gap to a target.", fill=ground.upgrade.problem or _no_way(ground))
    if not tuple(_found(ground, ("load_fraction",))):
        yield Lack(what="The load beside the site rating.", fill="Load and site on the page Load.")
    if content_fuel.gas(view, ground.system) is None:
        yield Lack(what="A gas analysis: the envelope of the gas is open.", fill="asfound gas, or the page Fuel gas.")
    if content_fuel.knock(view, ground.system) is None:
        yield Lack(
            what="The methane number beside what the build needs.", fill="A gas analysis, and the need of the build."
        )
    if not view.settings:
        yield Lack(what="Settings and the saved file of the controls.", fill="asfound setting, with the file.")


def _no_way(ground: Ground) -> str:
    """Return why no target can be reached, of the first."""
    told = [f"{one.title}: {one.says}" for one in ground.upgrade.targets if not one.way]
    return f"No target has a way. {told[0]}" if told else "No target has a way."


def _data(ground: Ground) -> Iterator[tuple[Any, ...]]:
    view, found = ground.view, ground.view.identification
    if found is None:
        return
    head = (
        view.engine.tag,
        view.site.name if view.site else "",
        str(view.engine.content.get("works_number") or ""),
        short_title(found),
        found.builds[0].probability if found.weighed else None,
    )
    for one in found.places:
        labels = [look.label for look in one.looks if look.label]
        yield (
            *head,
            one.number,
            one.slot,
            one.title,
            one.title_of_variant,
            one.variant,
            None if one.evidence_only or not one.variant else one.probability,
            one.title_of_runner_up,
            one.belongs,
            one.looked,
            " ".join(dict.fromkeys(look.how for look in one.looks)),
            labels[-1] if labels else "",
            "; ".join(dict.fromkeys(look.note for look in one.looks if look.note)),
            " ".join(look.entry for look in one.looks),
        )


READER = Reader(
    name="engineering",
    title="Engineering and upgrade",
    to="engineering and upgrade",
    wants="The build as found, the gap to the target, load and gas envelope",
    form="a build sheet with its envelopes, and a table",
    advice="The build is what is believed from looks, with its chance; look before anything is ordered or changed.",
    make=make,
    studies=True,
    table="one row for each place of the engine",
)
