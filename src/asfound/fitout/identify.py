"""From looks to belief: what is really fitted on one engine.

>>> from asfound.fitout.catalogue import load_catalogue
>>> engine = EngineFacts(tag="A2", family="HM9", driven="compressor")
>>> identify(load_catalogue(), engine, []).words
'open'
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, fields, replace

from asfound.evidence import Belief, Unknown, fit_z, posterior
from asfound.evidence.fit import LEAST_FIT, MOST_OTHER
from asfound.evidence.model import OTHER
from asfound.fitout import reasons
from asfound.fitout.catalogue import Catalogue
from asfound.fitout.channels_follow import channels_follow
from asfound.fitout.contradictions import Seen, contradictions
from asfound.fitout.engine_facts import EngineFacts
from asfound.fitout.follows import Ground, follows
from asfound.fitout.generic import beside, unlisted
from asfound.fitout.identification import Build, Contradiction, Identification, PlaceBelief, Words
from asfound.fitout.looks import SeenLook
from asfound.fitout.model import FitModel, fit_model, native_shares
from asfound.fitout.next_looks import ranked_looks
from asfound.fitout.observed import observed
from asfound.fitout.places import TITLE_OF_OTHER, owners, place_beliefs
from asfound.fitout.unlisted import described_only
from asfound.fitout.words import band

__all__ = [
    "BuildsOnly",
    "Effect",
    "EngineFacts",
    "Identification",
    "SeenLook",
    "builds_of",
    "effect_of",
    "identify",
]


LIKELY = 0.75
"""From this probability on a stranger is named in the title of the whole."""
MOST_ANSWERS = 32
"""Answers kept for each kind of engine: a page asks again for what it has just asked."""


def identify(
    catalogue: Catalogue, engine: EngineFacts, looks: Sequence[SeenLook], *, allowed: Sequence[str] = ("running",)
) -> Identification:
    """Return what is believed to be fitted, why, what to look at next and what follows.

    Parameters
    ----------
    catalogue : Catalogue
        What can be fitted.
    engine : EngineFacts
        What is known before the looks.
    looks : sequence of SeenLook
        In any order: the order does not matter.
    allowed : sequence of str
        States of the engine in which a look may be made now: ``running``, ``stopped``, ``isolated``.

    Returns
    -------
    Identification
        Where no family of the catalogue can be this engine it is described only: nothing is weighed
        (`asfound.fitout.unlisted`).

    Raises
    ------
    InputError
        A look names a slot, character or state that neither the catalogue nor the generic list has.
    """
    if why := unlisted(catalogue, engine):
        return described_only(catalogue, engine, looks, allowed, why)
    fit = fit_model(catalogue, engine)
    key = (_frozen(engine), tuple(looks), tuple(allowed))
    found = fit.answers.get(key)
    if found is None:
        found = _identify(fit, engine, looks, allowed)
        if len(fit.answers) >= MOST_ANSWERS:
            fit.answers.pop(next(iter(fit.answers)))
        fit.answers[key] = found
    return found


def _frozen(engine: EngineFacts) -> tuple[object, ...]:
    """Return the facts of an engine as a key."""
    values = (getattr(engine, one.name) for one in fields(engine))
    return tuple(tuple(sorted(one.items())) if isinstance(one, Mapping) else one for one in values)


def _identify(fit: FitModel, engine: EngineFacts, looks: Sequence[SeenLook], allowed: Sequence[str]) -> Identification:
    catalogue = fit.catalogue
    seen = observed(fit, engine, looks)
    belief = posterior(fit.model, seen.evidence)
    builds = ranked_builds(fit, belief)
    nearest = next(one for one in builds if one.kind != "other")
    two = two_numbers(fit, belief, nearest)
    apart = None if fit.apart is None else posterior(fit.apart, seen.apart)
    chances = {**belief.slots, **(apart.slots if apart else {})}
    places = place_beliefs(fit, chances, looks, fit.build(nearest.name), seen.plate)
    channels = channels_follow(fit, engine, places, looks)
    clashes = contradictions(
        Seen(
            fit=fit,
            engine=engine,
            looks=looks,
            plate=seen.plate,
            builds=builds,
            places=places,
            unlisted=two.not_in_catalogue,
            nearest=nearest,
            channels=channels,
        )
    )
    places = struck(places, clashes)
    why = reasons.explained(fit, seen, belief, builds)
    next_looks, groups, stop = ranked_looks(
        fit, engine, belief, apart, allowed, {one.slot: one.number for one in places}
    )
    headline, says = told(fit, nearest, places, unlisted=two.not_in_catalogue)
    return Identification(
        builds=builds,
        words=whole_words(builds, clashes, unlisted=two.not_in_catalogue),
        headline=headline,
        says=says,
        part_converted=part_converted(fit, belief, places),
        other=two.other,
        fit_z=two.fit_z,
        fit_says=fit_words(two),
        places=places,
        contradictions=clashes,
        weights=why.weights,
        weights_total=why.total,
        weights_prior=why.prior,
        leader=why.leader,
        runner_up=why.runner_up,
        why_not=why.why_not,
        hangs_on=why.hangs_on,
        next_looks=next_looks,
        groups=groups,
        stop=stop,
        follows=follows(
            Ground(
                fit=fit,
                engine=engine,
                looks=looks,
                builds=builds,
                places=places,
                nearest=nearest,
                unlisted=two.not_in_catalogue,
            ),
            channels,
        ),
        sources=belief.sources,
        catalogue=catalogue.name,
        catalogue_digest=catalogue.digest,
        nearest=nearest.title,
        short=short_words(fit, nearest, places, unlisted=two.not_in_catalogue),
        generic=beside(catalogue) if two.not_in_catalogue or fit.family is None else (),
    )


def two_numbers(fit: FitModel, belief: Belief, nearest: Build) -> Unknown:
    """Return the two numbers for 'not in the catalogue': belief in no build, and fit of the best one."""
    other = belief.lineages.get(OTHER, 0.0)
    z = fit_z(fit.model, belief, nearest.name)
    return Unknown(other, z, nearest.name, z < LEAST_FIT or other > MOST_OTHER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """What some looks did to the belief in the build that leads now."""

    build: str
    title: str
    before: float
    after: float
    leader_before: str
    title_before: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildsOnly:
    """Belief over the builds and nothing else: what a page needs to show what one look did."""

    builds: tuple[Build, ...]
    other: float


def builds_of(catalogue: Catalogue, engine: EngineFacts, looks: Sequence[SeenLook]) -> BuildsOnly:
    """Return the belief over the builds alone, at a tenth of what `identify` costs."""
    fit = fit_model(catalogue, engine)
    belief = posterior(fit.model, observed(fit, engine, looks).evidence)
    return BuildsOnly(builds=ranked_builds(fit, belief), other=belief.lineages.get(OTHER, 0.0))


def effect_of(catalogue: Catalogue, engine: EngineFacts, looks: Sequence[SeenLook], of: Collection[SeenLook]) -> Effect:
    """Return the belief in the present leader without and with some of the looks ('what this look did').

    Parameters
    ----------
    looks : sequence of SeenLook
        All looks.
    of : collection of SeenLook
        Those asked about; they are among ``looks``.
    """
    fit = fit_model(catalogue, engine)
    after = ranked_builds(fit, posterior(fit.model, observed(fit, engine, looks).evidence))
    others = [one for one in looks if one not in of]
    before = ranked_builds(fit, posterior(fit.model, observed(fit, engine, others).evidence))
    leader = after[0]
    return Effect(
        build=leader.name,
        title=leader.title,
        before=next(one.probability for one in before if one.name == leader.name),
        after=leader.probability,
        leader_before=before[0].name,
        title_before=before[0].title,
    )


def ranked_builds(fit: FitModel, belief: Belief) -> tuple[Build, ...]:
    """Return all builds, most probable first; ties in catalogue order."""
    unknown_build = fit.model.unknown
    found = []
    for name, chance in belief.ranked():
        info = fit.build(name)
        if info is None:
            found.append(
                Build(name=OTHER, title=TITLE_OF_OTHER, probability=chance, kind="other", before=unknown_build)
            )
        else:
            found.append(
                Build(
                    name=name,
                    title=info.title,
                    probability=chance,
                    kind="part_converted" if info.kit else "as_built",
                    generation=info.generation,
                    kit=info.kit,
                    before=info.prior * (1 - unknown_build),
                )
            )
    return tuple(found)


def part_converted(fit: FitModel, belief: Belief, places: Sequence[PlaceBelief]) -> float:
    """Return the probability of a kit, or that a place which was looked at holds a unit native elsewhere. [0 to 1]

    Within a build the places are independent: P(no stranger) is the product over the places looked at of P(native or
    not in the catalogue).
    """
    looked = {one.slot for one in places if one.looked in ("seen", "not_there")}
    slots = [one for one in fit.slots if one.id in looked and not one.apart]
    whole = 0.0
    for build in fit.builds:
        chance = belief.lineages[build.name]
        if build.kit or chance < 1e-6:
            whole += chance if build.kit else 0.0
            continue
        pure = 1.0
        for slot in slots:
            native = native_shares(slot, build.generation, build.kit)
            given = belief.given(build.name, slot.id)
            if native:
                pure *= given[OTHER] + sum(given[name] for name in native)
        whole += chance * (1.0 - pure)
    return min(max(whole, 0.0), 1.0)


def struck(places: tuple[PlaceBelief, ...], clashes: tuple[Contradiction, ...]) -> tuple[PlaceBelief, ...]:
    """Return the places with those marked that are part of a contradiction."""
    disagree = {
        slot
        for one in clashes
        if one.severity in ("clash", "visit", "stop") and one.code != "FT-04"
        for slot in one.places
    }
    return tuple(replace(one, agrees=False, words="does not agree") if one.slot in disagree else one for one in places)


def whole_words(builds: Sequence[Build], clashes: Sequence[Contradiction], *, unlisted: bool) -> Words:
    """Return the word for the whole: 'not in the catalogue' and 'does not agree' override the bands."""
    if unlisted:
        return "not in the catalogue"
    word = band(builds[0].probability)
    if word in ("open", "leaning") and any(one.code in ("FT-01", "FT-03", "FT-14") for one in clashes):
        return "does not agree"
    return word


def fit_words(two: Unknown) -> str:
    """Say whether the best build fits at all."""
    z = abs(two.fit_z)
    side = "below" if two.fit_z < 0 else "above"
    scale = f"({z:.1f} {side} its mean, on a scale where 3 is strange)"
    if two.fit_z < -3:
        return f"No: what was seen is strange even for the best build {scale}."
    if two.fit_z < -2:
        return f"Hardly: some of what was seen is unusual for it {scale}."
    return f"Yes: what was seen is usual for it {scale}."


def told(fit: FitModel, nearest: Build, places: Sequence[PlaceBelief], *, unlisted: bool) -> tuple[str, str]:
    """Return the headline and the sentence below it."""
    family = fit.family.title if fit.family else ""
    if unlisted:
        engine = f"The engine is {family}" if family else "The family of the engine is not known"
        return (
            "Not in the catalogue",
            f"{engine}; what steers it is in no catalogue. Nearest is {nearest.title}.",
        )
    strangers = [one for one in places if one.striking and one.belongs == "stranger"]
    strange = "; ".join(f"{one.title.lower()}: {one.title_of_variant}" for one in strangers)
    if nearest.kit:
        kit_places = [one for one in places if one.belongs == "kit"]
        seen = sum(one.looked == "seen" for one in kit_places)
        host, kit = fit.catalogue.owner_title(nearest.generation), fit.catalogue.owner_title(nearest.kit)
        says = f"{host} host with {kit}, {seen} of {len(kit_places)} places of the set seen."
        return "Part-converted", f"{says} Belongs to neither: {strange}." if strangers else says
    if strangers:
        return "Part-converted", f"{nearest.title} but for {strange}."
    on = f", on {family}." if family else "; the family of the engine is not known yet."
    return nearest.title, f"{nearest.title} as built{on}"


def short_words(fit: FitModel, nearest: Build, places: Sequence[PlaceBelief], *, unlisted: bool) -> str:
    """Return the build in few words: host with its kit, or host with the likely strangers on it."""
    if unlisted:
        return "Not in the catalogue"
    strangers = [one for one in places if one.striking and one.belongs == "stranger"]
    if nearest.kit or not strangers:
        return nearest.title
    likely = [one for one in strangers if one.probability >= LIKELY]
    parts = [one.title[0].lower() + one.title[1:] for one in likely]
    if len(likely) == 1:
        variant = fit.catalogue.slots[likely[0].slot].variants[likely[0].variant]
        whose = [fit.catalogue.owner_title(name) for name in owners(variant)]
        by = next((one for one in whose if one in variant.title), "")
        return f"{nearest.title}, {parts[0].removesuffix(' controller')} by {by}" if by else _foreign(nearest, parts[0])
    if len(likely) == 2:
        return _foreign(nearest, " and ".join(parts))
    return _foreign(nearest, f"{len(likely)} places" if likely else "one place perhaps")


def _foreign(nearest: Build, what: str) -> str:
    return f"{nearest.title}, {what} not its own"
