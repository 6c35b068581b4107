"""Make a catalogue ready for inference on one kind of engine: its builds, places, characters, with their chances.

The builds are the generations that this family and drive can have, each as built and with each kit that takes it as a
host. Places that stand apart (turbochargers, heads, bearing sensors) have the same shares in every build.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from asfound.errors import InputError
from asfound.evidence import model as e
from asfound.fitout import seeing
from asfound.fitout.catalogue import MOST_UNITS, Catalogue, Character, Slot, Variant
from asfound.fitout.channels import ChannelPlan, plan, units_needed
from asfound.fitout.looks import SOMETHING_ELSE
from asfound.fitout.plate import plate_kinds

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Family
    from asfound.fitout.engine_facts import EngineFacts
    from asfound.fitout.identification import Identification

FAMILY = "family"
BEARINGS_MEASURED = 0.7
"""Chance that main bearings are measured, where nothing is known (judgement, no source)."""
LOOKS_LIKE_NOTHING = 0.6
"""Chance that a unit which the catalogue does not know looks like none of its pictures (judgement, no source)."""
COUNT_OFF = 0.06
"""Chance that the number of units is neither of the two that the formula gives (judgement, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildInfo:
    """A build that this engine can be."""

    name: str
    title: str
    generation: str
    kit: str
    prior: float


@dataclass(frozen=True, kw_only=True)
class FitModel:
    """The inference model of one kind of engine, with what the answers need to be told in words."""

    catalogue: Catalogue
    families: tuple[Family, ...]
    builds: tuple[BuildInfo, ...]
    slots: tuple[Slot, ...]
    """Places of parts, in catalogue order (statement slots are not among them)."""
    model: e.Model
    """Places that follow the generations of control, and the builds."""
    apart: e.Model | None
    """Places that follow the family (turbochargers, heads): they say nothing of the build, and it nothing of them."""
    plan: ChannelPlan | None
    plan_without_bearings: ChannelPlan | None
    kept: dict[object, object] = field(default_factory=dict, compare=False, repr=False)
    """What is made once from this model and used again (looks on offer)."""
    answers: dict[object, Identification] = field(default_factory=dict, compare=False, repr=False)
    """The last identifications made with this model."""

    @property
    def family(self) -> Family | None:
        """The family, where only one is possible."""
        return self.families[0] if len(self.families) == 1 else None

    def build(self, name: str) -> BuildInfo | None:
        """Return a build by name; None for ``other``."""
        return next((one for one in self.builds if one.name == name), None)


def fit_model(catalogue: Catalogue, engine: EngineFacts) -> FitModel:
    """Return the model for an engine; made once for each kind of engine and kept with the catalogue.

    Raises
    ------
    InputError
        The family is not in the catalogue, or no family has this layout.
    """
    families = possible_families(catalogue, engine)
    key = (
        tuple(one.id for one in families),
        engine.driven,
        engine.turbochargers,
        engine.catalyst,
        engine.bearings_measured,
    )
    found = catalogue.compiled.get(key)
    if not isinstance(found, FitModel):
        found = _make(catalogue, engine, families)
        catalogue.compiled[key] = found
    return found


def possible_families(catalogue: Catalogue, engine: EngineFacts) -> tuple[Family, ...]:
    """Return the families that the engine can be of: the one it is said to be, or those with its layout."""
    if engine.family:
        if engine.family not in catalogue.families:
            raise InputError(
                "family",
                engine.family,
                "is not in the catalogue",
                allowed=", ".join(catalogue.families),
                try_next="Leave it empty and give layout and cylinders.",
            )
        return (catalogue.families[engine.family],)
    found = tuple(
        one
        for one in catalogue.families.values()
        if engine.layout in ("", one.layout) and engine.cylinders in (0, one.cylinders)
    )
    if not found:
        raise InputError(
            "layout",
            f"{engine.layout} {engine.cylinders}",
            "is the layout of no family of the catalogue",
            allowed=", ".join(f"{one.id} ({one.layout} {one.cylinders})" for one in catalogue.families.values()),
            try_next="Describe it with the generic slots.",
        )
    return found


def _make(catalogue: Catalogue, engine: EngineFacts, families: tuple[Family, ...]) -> FitModel:
    slots = tuple(
        one
        for one in catalogue.slots.values()
        if not one.evidence_only and (not one.families or any(family.id in one.families for family in families))
    )
    builds = _builds(catalogue, engine, families)
    plans = _plans(engine, families[0]) if len(families) == 1 else (None, None)
    return FitModel(
        catalogue=catalogue,
        families=families,
        builds=builds,
        slots=slots,
        plan=plans[0],
        plan_without_bearings=plans[1],
        model=e.Model(
            [e.Lineage(one.name, one.prior, _native(one, slots), one.title, as_built=one.generation) for one in builds],
            [e.Slot(one.id, list(one.variants), one.title, mu=one.swapped) for one in slots if not one.apart],
            _characters([one for one in slots if not one.apart], engine, plans),
            (*seeing.kinds(catalogue.rates), *plate_kinds(catalogue.rates)),
            mu=catalogue.rates.swapped,
            w=catalogue.rates.unlisted,
            unknown=catalogue.rates.unknown_build,
        ),
        apart=_apart_model([one for one in slots if one.apart], families, engine, catalogue),
    )


def _apart_model(
    slots: Sequence[Slot], families: Sequence[Family], engine: EngineFacts, catalogue: Catalogue
) -> e.Model | None:
    """Return the model of the places that say nothing of the build: they have one lineage, the family."""
    if not slots:
        return None
    native = {one.id: native_shares(one, "", "", families) for one in slots}
    return e.Model(
        [e.Lineage(FAMILY, 1.0, {name: shares for name, shares in native.items() if shares})],
        [e.Slot(one.id, list(one.variants), one.title, mu=0.0) for one in slots],
        _characters(slots, engine, (None, None)),
        seeing.kinds(catalogue.rates),
        w=catalogue.rates.unlisted,
        unknown=0.0,
    )


def _characters(
    slots: Sequence[Slot], engine: EngineFacts, plans: tuple[ChannelPlan | None, ChannelPlan | None]
) -> list[e.Character]:
    return [_character(slot, one, engine, plans) for slot in slots for one in slot.characters.values() if in_model(one)]


def in_model(character: Character) -> bool:
    """Return whether a character tells something of the variant."""
    return not character.settings and character.kind != "text"


def character_key(slot: str, character: str) -> str:
    """Return the name of a character in the inference model."""
    return f"{slot}.{character}"


def _builds(catalogue: Catalogue, engine: EngineFacts, families: Sequence[Family]) -> tuple[BuildInfo, ...]:
    share = _shares(catalogue, engine, families)
    found: list[BuildInfo] = []
    for generation in catalogue.generations.values():
        if (common := share.get(generation.id, 0.0)) <= 0:
            continue
        kits = [(kit, kit.hosts[generation.id]) for kit in catalogue.kits.values() if generation.id in kit.hosts]
        plain = 1.0 - sum(part for _, part in kits)
        found.append(
            BuildInfo(
                name=generation.id, title=generation.title, generation=generation.id, kit="", prior=common * plain
            )
        )
        found += [
            BuildInfo(
                name=f"{generation.id}+{kit.id}",
                title=f"{generation.title} with {kit.title}",
                generation=generation.id,
                kit=kit.id,
                prior=common * part,
            )
            for kit, part in kits
        ]
    return tuple(found)


def _shares(catalogue: Catalogue, engine: EngineFacts, families: Sequence[Family]) -> dict[str, float]:
    """Return how common each generation is, averaged over what is not known, adding up to 1."""
    total: dict[str, float] = {}
    for family in families:
        rows = [row for row in catalogue.shares if family.id in row.families and engine.driven in ("", row.driven)]
        of: Mapping[str, float]
        for of in [row.of for row in rows] or [
            {one.id: 1.0 for one in catalogue.generations.values() if family.id in one.families}
        ]:
            whole = sum(of.values()) or 1.0
            for name, part in of.items():
                if family.id in catalogue.generations[name].families:
                    total[name] = total.get(name, 0.0) + part / whole
    everything = sum(total.values())
    if everything <= 0:
        raise InputError(
            "family",
            ", ".join(one.id for one in families),
            "has no generation of control in the catalogue",
            try_next="Add its generations, or describe it with the generic slots.",
        )
    return {name: part / everything for name, part in total.items()}


def _native(build: BuildInfo, slots: Sequence[Slot]) -> dict[str, dict[str, float]]:
    """Return what each place of a build carries when nothing was swapped; a place left out is not known."""
    found: dict[str, dict[str, float]] = {}
    for slot in slots:
        shares = {} if slot.apart else native_shares(slot, build.generation, build.kit)
        if shares:
            found[slot.id] = shares
    return found


def native_shares(slot: Slot, generation: str, kit: str, families: Sequence[Family] = ()) -> dict[str, float]:
    """Return the variants that belong in a place of this build, with their shares; empty where nobody knows."""
    if slot.apart:
        shares = {one.id: _share(one, families) for one in slot.variants.values()}
    else:
        by_kit = {one.id: 1.0 for one in slot.variants.values() if kit and kit in one.kits}
        shares = by_kit or {
            one.id: one.native[generation] for one in slot.variants.values() if one.native.get(generation, 0.0) > 0
        }
    total = sum(shares.values())
    return {name: part / total for name, part in shares.items()} if total > 0 else {}


def _share(variant: Variant, families: Sequence[Family]) -> float:
    share = variant.share
    if share is None:
        return 0.0
    if isinstance(share, Mapping):
        parts = [share.get(one.id, 0.0) for one in families] or list(share.values())
        return sum(parts) / len(parts)
    return float(share)


def _character(
    slot: Slot, character: Character, engine: EngineFacts, plans: tuple[ChannelPlan | None, ChannelPlan | None]
) -> e.Character:
    theta: dict[str, Mapping[str, float]] = {}
    for variant in slot.variants.values():
        said = variant.states.get(character.id)
        if character.kind == "count" and variant.units and said is None and plans[0] is not None:
            said = _counts(variant, engine, plans)
        if said is not None:
            theta[variant.id] = dict(said)
    applies = any(e.INAPPLICABLE in said for said in theta.values())
    if character.kind != "count":
        rest = (1.0 - LOOKS_LIKE_NOTHING) / len(character.states)
        theta[e.OTHER] = {**dict.fromkeys(character.states, rest), SOMETHING_ELSE: LOOKS_LIKE_NOTHING}
    return e.Character(
        character_key(slot.id, character.id),
        slot.id,
        (*character.states, SOMETHING_ELSE, *((e.INAPPLICABLE,) if applies else ())),
        theta,
        character.title,
        misread={
            variant.id: variant.misread[character.id]
            for variant in slot.variants.values()
            if character.id in variant.misread
        },
    )


def _plans(engine: EngineFacts, family: Family) -> tuple[ChannelPlan, ChannelPlan]:
    turbochargers = family.turbochargers if engine.turbochargers is None else engine.turbochargers
    catalyst = family.catalyst if engine.catalyst is None else engine.catalyst
    with_bearings, without = (
        plan(
            layout=family.layout,
            cylinders=family.cylinders,
            turbochargers=turbochargers,
            bearings=bearings,
            catalyst=catalyst,
        )
        for bearings in (family.main_bearings, 0)
    )
    return with_bearings, without


def _counts(
    variant: Variant, engine: EngineFacts, plans: tuple[ChannelPlan | None, ChannelPlan | None]
) -> dict[str, float]:
    """Return the chance of each number of units: what the formula gives with and without bearings, else any."""
    units = variant.units
    if units is None or plans[0] is None or plans[1] is None:
        return {}
    measured = BEARINGS_MEASURED if engine.bearings_measured is None else (0.97 if engine.bearings_measured else 0.03)
    found = {str(n): COUNT_OFF / MOST_UNITS for n in range(1, MOST_UNITS + 1)}
    for planned, chance in ((plans[0], measured), (plans[1], 1.0 - measured)):
        number = str(min(units_needed(planned, units).units, MOST_UNITS))
        found[number] = found.get(number, 0.0) + chance * (1.0 - COUNT_OFF)
    total = sum(found.values())
    return {number: chance / total for number, chance in found.items()}
