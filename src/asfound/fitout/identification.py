"""What is believed to be fitted, why, and what follows: the answer of `identify`, ready for page, report and record.

All probabilities lie in [0, 1]; weights are in decibans (ten times the decimal logarithm of a ratio of odds),
positive for
the leading build and against the runner-up. Every dataclass is frozen; ``as_dict()`` gives plain lists, dicts and
numbers.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from asfound.fitout.identification_follows import Follows
from asfound.fitout.looks import SeenLook

Words = Literal["settled", "likely", "leaning", "open", "not in the catalogue", "does not agree"]
Belongs = Literal["host", "kit", "stranger", "unknown"]
Looked = Literal["seen", "not_there", "not_judged", "open"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """One way the whole engine can be: a generation as built, a generation with a field kit, or none of the
    catalogue.
    """

    name: str
    """``moldrevane``, ``bramquell+yarnolt``, ``other``."""
    title: str
    probability: float
    kind: Literal["as_built", "part_converted", "other"]
    generation: str = ""
    kit: str = ""
    before: float = 0.0
    """Prior probability for an engine of this family and drive, before any look."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a slot sits on the drawing: side as seen from the flywheel end, and how far along the crank."""

    side: Literal["left", "right"]
    along: float
    """0 at the flywheel end, 1 at the free end."""
    kind: str
    """Outline to draw: ``box``, ``rail``, ``dome``, ``strip`` ..."""
    words: str = ""
    """Where to find it: 'on the plate above the charge cooler'."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VariantBelief:
    """One thing that can sit in a place, with its probability."""

    name: str
    title: str
    probability: float
    belongs: Belongs = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceBelief:
    """One place of the engine: what sits there, how sure that is, and to whom it belongs."""

    slot: str
    number: int
    """Tag number, clockwise from the flywheel end of the left side."""
    title: str
    group: str
    place: Place
    looked: Looked
    variant: str
    """Most probable variant; ``other`` = not in the catalogue; empty where the catalogue has no variants (generic
    slot).
    """
    title_of_variant: str
    probability: float
    runner_up: str
    title_of_runner_up: str
    belongs: Belongs
    words: Words
    variants: tuple[VariantBelief, ...]
    """All, most probable first."""
    looks: tuple[SeenLook, ...]
    agrees: bool = True
    """False: part of a contradiction (struck equals on the tag)."""
    evidence_only: bool = False
    """True for the nameplate and the stamped number: they say, they are not fitted."""
    striking: bool = False
    """A stranger or unknown that was seen, not merely left possible."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradiction:
    """Two things that cannot both be right; both are kept."""

    code: str
    """``FT-01`` ..., as in docs/findings/FT.md."""
    says: str
    because: tuple[str, ...]
    """The looks and facts behind it, as sentences."""
    next_step: str
    places: tuple[str, ...] = ()
    """Slots concerned."""
    entries: tuple[str, ...] = ()
    probability: float | None = None
    """That it is so; None: seen as it is, no probability given."""
    severity: Literal["stop", "visit", "clash", "soon", "note"] = "clash"
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """How far one look moved the answer from the runner-up to the leader; all of them and the prior add up."""

    says: str
    how: str
    decibans: float
    against: bool
    instead: str
    """For a look that speaks against the leader: what the leader would have shown instead."""
    entry: str
    slot: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WhyNot:
    """Why another build is not the answer, and what it would need."""

    build: str
    title: str
    says: str
    probability: float = 0.0
    cost: tuple[Weight, ...] = ()
    """The two or three looks that cost it most (decibans against the leader)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HangsOn:
    """A look that carries the answer: without it another build would lead, or the leader would no longer be likely
    (0.75).
    """

    says: str
    entry: str
    without: str
    """Build that would lead without it."""
    title: str
    probability: float
    """Of the present leader without it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What one answer to a look would make of the belief."""

    state: str
    title: str
    probability: float
    leader: str
    """Build that would lead then; empty for a look that says nothing of the build."""
    title_of_leader: str
    leader_probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NextLook:
    """A look worth making, or the reason why not now."""

    id: str
    slot: str
    character: str
    number: int
    title: str
    says: str
    minutes: float
    state_needed: Literal["running", "stopped", "isolated"]
    allowed: bool
    why_not: str
    bits: float
    share_of_doubt: float
    """Part of the doubt about the whole build that it takes away on average. [0 to 1]"""
    outcomes: tuple[Outcome, ...]
    hazards: tuple[str, ...] = ()
    """Tags of the register of cautions."""
    about: str = ""
    """Empty: takes doubt from the whole build. A slot: only from that place, which stands apart from the build."""
    order: str = ""
    """Why it stands where it stands, where no share of doubt can be computed; empty elsewhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LookGroup:
    """Looks that share one set-up (engine stopped, engine isolated), scored together."""

    state_needed: str
    title: str
    minutes: float
    bits: float
    share_of_doubt: float
    looks: tuple[str, ...]
    """``NextLook.id`` of its best looks together."""
    allowed: bool
    why_not: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StopLooking:
    """Why no further look is proposed."""

    reason: str
    says: str


def short_title(identification: Identification) -> str:
    """Return what is fitted in few words, for lists and headings: the host, and what on it is not its own."""
    return identification.short or identification.headline


@dataclass(frozen=True, slots=True, kw_only=True)
class Identification:
    """The whole answer about what is fitted."""

    builds: tuple[Build, ...]
    """All builds, most probable first; ties in the order of the catalogue."""
    words: Words
    headline: str
    """'Moldrevane, as built', 'Part-converted', 'Not in the catalogue'."""
    says: str
    """One sentence below the headline."""
    part_converted: float | None
    """That a kit is fitted, or that a place which was looked at holds a unit of another family; None: not computed,
    because no catalogue knows the engine.
    """
    other: float
    fit_z: float | None
    """How usual the looks are under the best build, in standard deviations; below about -3: strange. None: not
    computed, because no catalogue knows the engine.
    """
    fit_says: str
    places: tuple[PlaceBelief, ...]
    contradictions: tuple[Contradiction, ...]
    weights: tuple[Weight, ...]
    weights_total: float
    """Decibans of the leader against the runner-up, prior included: the weights and ``weights_prior`` add up to it."""
    weights_prior: float
    leader: str
    runner_up: str
    why_not: tuple[WhyNot, ...]
    hangs_on: tuple[HangsOn, ...]
    next_looks: tuple[NextLook, ...]
    """Allowed looks first, each list by doubt taken away per minute; looks that are not allowed now carry the
    reason.
    """
    groups: tuple[LookGroup, ...]
    stop: StopLooking | None
    follows: Follows
    sources: dict[str, float] = field(default_factory=dict)
    """Per source that told several things: probability that it speaks of this engine."""
    catalogue: str = ""
    catalogue_digest: str = ""
    nearest: str = ""
    """Title of the nearest build where the answer is 'not in the catalogue'."""
    generic: tuple[str, ...] = ()
    """Generic slots that can be described beside the places, where the catalogue has nothing for them."""
    short: str = ""
    """What it is in few words, the host with the named stranger: 'Tisenorra, mixture by Vorunice-short'."""

    def _repr_html_(self) -> str:
        """Return what a notebook shows: the answer, the builds, the places that were looked at."""
        from asfound.quantities.display import chance
        from asfound.quantities.notebook import html_table, paragraphs

        builds = [(one.title, chance(one.probability), chance(one.before)) for one in self.builds if one.probability]
        places = [
            (one.number, one.title, one.title_of_variant, chance(one.probability), one.belongs)
            for one in self.places
            if one.looked != "open"
        ]
        return (
            paragraphs(f"{self.headline}: {self.words}", self.says, *(one.says for one in self.contradictions))
            + html_table(("build", "belief", "before any look"), builds, title="Builds")
            + html_table(("no.", "place", "fitted", "belief", "belongs to"), places, title="Places looked at")
        )

    @property
    def weighed(self) -> bool:
        """Whether looks were weighed against a catalogue; if not, the engine is only described."""
        return self.fit_z is not None

    def place(self, slot: str) -> PlaceBelief:
        """Return the belief of one place.

        Raises
        ------
        UnknownNameError
            No place of this engine has that slot.
        """
        from asfound.errors import UnknownNameError

        for one in self.places:
            if one.slot == slot:
                return one
        raise UnknownNameError("place", slot, [one.slot for one in self.places])

    def build(self, name: str) -> Build:
        """Return one build by its name.

        Raises
        ------
        UnknownNameError
            No build of the catalogue has that name for this engine.
        """
        from asfound.errors import UnknownNameError

        for one in self.builds:
            if one.name == name:
                return one
        raise UnknownNameError("build", name, [one.name for one in self.builds])

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain dicts, lists, text and numbers (JSON-ready)."""
        return asdict(self)
