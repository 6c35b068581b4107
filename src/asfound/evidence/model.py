"""What can be the case: lineages, slots with their variants, characters with their states, kinds of observation.

A *lineage* is an as-built generation with a conversion kit or none. Given the lineage, slots are independent:
P(variant | lineage) is 1 - mu - w for the native variant, w for ``other`` (not in the catalogue), and mu is spread
evenly over the remaining catalogued variants. A lineage ``other`` with flat slots stands beside the catalogued
ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from asfound.errors import InputError, UnknownNameError

if TYPE_CHECKING:
    from asfound.evidence.compiled import Compiled

OTHER = "other"
"""Name of the lineage, and of the variant in every slot, that is not in the catalogue."""
INAPPLICABLE = "inapplicable"
"""State of a character that a variant cannot have; declare it with probability 1, never leave a blank."""
AS_BUILT = "as_built"
"""Reserved character of the lineage itself; its states are the as-built generations. A look may reveal it (a plate)."""
FLOOR = 1e-4
"""Least chance of a seen state, after the error mixture: a catalogue is never that sure."""
SLIP = 0.005
"""Reading error inside a source that is right, where its kind gives none (own setting, no source)."""
TOLERANCE = 1e-6
"""How far declared probabilities may miss 1."""


@dataclass(frozen=True, slots=True)
class Variant:
    """One thing that can sit in a slot."""

    name: str
    title: str = ""


@dataclass(frozen=True, slots=True)
class Slot:
    """A place with one variant in it; ``other`` is added to its variants by the model.

    Parameters
    ----------
    name, title : str
    variants : sequence of Variant or str
        What the catalogue knows for this place, in catalogue order.
    mu, w : float, optional
        Chance of a single swap to another catalogued variant, and to one that is not in the catalogue; the model's
        where None. [-]
    """

    name: str
    variants: tuple[Variant, ...]
    title: str = ""
    mu: float | None = None
    w: float | None = None

    def __init__(
        self,
        name: str,
        variants: Iterable[Variant | str],
        title: str = "",
        mu: float | None = None,
        w: float | None = None,
    ) -> None:
        object.__setattr__(self, "name", name)
        object.__setattr__(self, "variants", tuple(v if isinstance(v, Variant) else Variant(v) for v in variants))
        object.__setattr__(self, "title", title)
        object.__setattr__(self, "mu", mu)
        object.__setattr__(self, "w", w)


@dataclass(frozen=True, slots=True)
class Lineage:
    """An as-built generation with a conversion kit or none.

    Parameters
    ----------
    name : str
    prior : float
        Among the catalogued lineages; these add up to 1. [-]
    native : mapping of slot to variant, or to a mapping of variant to share
        What it carries when nothing was swapped. A slot left out is flat: the catalogue does not know.
    as_built : str
        Its generation without the kit, which plates and papers speak about; its own name where empty.
    """

    name: str
    prior: float
    native: Mapping[str, str | Mapping[str, float]]
    title: str = ""
    as_built: str = ""


@dataclass(frozen=True, slots=True)
class Character:
    """Something that can be seen of a slot's variant.

    Parameters
    ----------
    name, slot : str
    states : tuple of str
        All that can be seen; include :data:`INAPPLICABLE` where a variant cannot have the character.
    theta : mapping of variant to (mapping of state to probability, or a state)
        The catalogue. A variant left out is "not recorded": the background is used. A single state means
        probability 1. [-]
    excludes : mapping of variant to states
        Hard exclusions, deliberate: absolute for a look whose kind has no error, otherwise the state "would have to
        be misread".
    misread : mapping of variant to states
        States with a small theta that stand for a common misreading: the inference tolerates them, descriptions
        omit them.
    background : mapping of state to probability, optional
        Overrides the background b = half the plain average over the slot's catalogued variants, half uniform. [-]
    """

    name: str
    slot: str
    states: tuple[str, ...]
    theta: Mapping[str, Mapping[str, float] | str]
    title: str = ""
    excludes: Mapping[str, Sequence[str]] = field(default_factory=dict)
    misread: Mapping[str, Sequence[str]] = field(default_factory=dict)
    background: Mapping[str, float] | None = None


@dataclass(frozen=True, slots=True)
class Kind:
    """How an observation was made, and so how far it can be trusted.

    Parameters
    ----------
    name : str
    error : float
        Chance e that what is stated has nothing to do with what is there (then the background speaks). [0 to 1]
    wrong : float, optional
        For statements that name their source: chance that the source describes another thing altogether; ``error``
        where None. [0 to 1]
    slip : float, optional
        For statements that name their source: reading error inside a source that is right; the smaller of ``error`` and
        0.005 where None. [0 to 1]
    """

    name: str
    error: float
    wrong: float | None = None
    slip: float | None = None

    @property
    def source_wrong(self) -> float:
        """Chance that a source of this kind describes another thing. [-]"""
        return self.error if self.wrong is None else self.wrong

    @property
    def source_slip(self) -> float:
        """Reading error inside a source of this kind that is right. [-]"""
        return min(self.error, SLIP) if self.slip is None else self.slip


READ = Kind("read", 0.005)
SEEN = Kind("seen", 0.05)
PAPER = Kind("paper", 0.25)
HEARSAY = Kind("hearsay", 0.50)
START_KINDS = (READ, SEEN, PAPER, HEARSAY)
"""Start values (own setting, no source); to be refitted from confirmed cases, see ``calibrate``."""


class Model:
    """A catalogue made ready for inference; checked and compiled to arrays once.

    Parameters
    ----------
    lineages : sequence of Lineage
        Catalogued lineages in catalogue order; priors add up to 1.
    slots : sequence of Slot
    characters : sequence of Character
    kinds : sequence of Kind
    mu, w : float
        Chance of a single swap in a slot to another catalogued variant, and to one not in the catalogue. [-]
    unknown : float
        Prior of the lineage ``other``; 0 leaves it out. [-]
    floor : float
        Least chance of a seen state after the error mixture. [-]
    wrong_prior : mapping of lineage to float, optional
        From which lineages a wrong source's thing is drawn; the lineages' own priors where None. [-]

    Raises
    ------
    InputError
        A probability outside 0 to 1, or probabilities that do not add up.
    UnknownNameError
        A slot, variant or state that is not declared.

    Notes
    -----
    Start values mu = 0.10, w = 0.03, unknown = 0.02 are own settings without a source; refit them from confirmed cases.
    """

    def __init__(
        self,
        lineages: Iterable[Lineage],
        slots: Iterable[Slot],
        characters: Iterable[Character],
        kinds: Iterable[Kind] = START_KINDS,
        *,
        mu: float = 0.10,
        w: float = 0.03,
        unknown: float = 0.02,
        floor: float = FLOOR,
        wrong_prior: Mapping[str, float] | None = None,
    ) -> None:
        from asfound.evidence.validate import check_model

        self.lineages = tuple(lineages)
        self.slots = tuple(slots)
        self.characters = tuple(characters)
        self.kinds = {kind.name: kind for kind in kinds}
        self.mu, self.w, self.unknown, self.floor = mu, w, unknown, floor
        self.wrong_prior = wrong_prior
        self._slots = {slot.name: i for i, slot in enumerate(self.slots)}
        self._characters = {character.name: i for i, character in enumerate(self.characters)}
        check_model(self)

    @cached_property
    def lineage_names(self) -> tuple[str, ...]:
        """Catalogued lineages in catalogue order, then ``other`` where its prior is above 0."""
        return tuple(one.name for one in self.lineages) + ((OTHER,) if self.unknown > 0 else ())

    def variant_names(self, slot: str) -> tuple[str, ...]:
        """Return the variants of a slot in catalogue order, ``other`` last."""
        return (*(v.name for v in self.slots[self.slot_index(slot)].variants), OTHER)

    def slot_index(self, name: str) -> int:
        """Return where a slot stands; UnknownNameError where it does not."""
        try:
            return self._slots[name]
        except KeyError:
            raise UnknownNameError("slot", name, self._slots) from None

    def character_index(self, name: str) -> int:
        """Return where a character stands; UnknownNameError where it does not."""
        try:
            return self._characters[name]
        except KeyError:
            raise UnknownNameError("character", name, self._characters) from None

    def character(self, name: str) -> Character:
        """Return the character of that name."""
        return self.characters[self.character_index(name)]

    def kind(self, name: str) -> Kind:
        """Return the kind of that name."""
        try:
            return self.kinds[name]
        except KeyError:
            raise UnknownNameError("kind of observation", name, self.kinds) from None

    def describe(self, character: str, variant: str) -> tuple[tuple[str, float], ...]:
        """Return what the catalogue says this variant shows, most probable first, without its known misreadings.

        Empty where the catalogue does not record it.
        """
        one = self.character(character)
        said = one.theta.get(variant)
        if said is None:
            return ()
        shares = {said: 1.0} if isinstance(said, str) else said
        omit = set(one.misread.get(variant, ()))
        shown = [
            (state, float(shares[state])) for state in one.states if shares.get(state, 0.0) > 0 and state not in omit
        ]
        return tuple(sorted(shown, key=lambda pair: -pair[1]))

    @cached_property
    def compiled(self) -> Compiled:
        """Padded arrays, made at first use."""
        from asfound.evidence.compiled import compile_model

        return compile_model(self)

    def with_rates(
        self,
        *,
        mu: float | None = None,
        w: float | None = None,
        unknown: float | None = None,
        kinds: Iterable[Kind] | None = None,
    ) -> Model:
        """Return the same catalogue with other rates, for example those fitted from confirmed cases."""
        return Model(
            self.lineages,
            self.slots,
            self.characters,
            self.kinds.values() if kinds is None else kinds,
            mu=self.mu if mu is None else mu,
            w=self.w if w is None else w,
            unknown=self.unknown if unknown is None else unknown,
            floor=self.floor,
            wrong_prior=self.wrong_prior,
        )


def probability(field: str, value: float) -> float:
    """Return ``value``; InputError where it is no probability."""
    if not 0.0 <= value <= 1.0:
        raise InputError(
            field, f"{value}", "is no probability", allowed="0 to 1", try_next="Correct it in the catalogue."
        )
    return value
