"""What can be fitted: families, generations, kits, slots with their variants and looks, and what follows from them.

A catalogue is a folder of YAML files that a senior engineer writes; `docs/catalogue.md` is the recipe. All files of the
folder together are one catalogue: each may hold any of the sections. Without a path the packaged, wholly invented demo
catalogue is loaded. Places that no catalogue knows are described by the generic slots (`asfound.fitout.generic`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Literal, TypeVar

from asfound.errors import UnknownNameError
from asfound.fitout.catalogue_papers import Bulletin, Document, DocumentClash, Interchange, Rule, Software, Spare

Outside = Literal["h", "m", "l"]
LABEL_NONE = "no_label"
"""State of a label character: looked, and there is no label."""
MOST_UNITS = 12
"""Largest count of units (strips, cards) that a count character can hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rating:
    """Power at a speed on an ISO-like day, with the mean effective pressure that the catalogue prints."""

    kw: float
    rpm: float
    bmep_bar: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """A family of engines: layout, size, rating. Size 0 and no rating: not known (a first entry)."""

    id: str
    title: str
    builder: str
    layout: Literal["inline", "vee"]
    cylinders: int
    bore_mm: float
    stroke_mm: float
    swept_l: float
    rated: tuple[Rating, ...]
    turbochargers: int
    turbocharger_end: Literal["free", "driving"]
    main_bearings: int
    counted_from: Literal["free", "driving"]
    """End where cylinder number 1 is, as the builder counts."""
    bank_angle_deg: float = 0.0
    combustion: str = ""
    catalyst: bool = False
    mirror_of: str = ""
    """Family of which this one is the mirror image: sides change over."""

    @property
    def rows(self) -> int:
        """Rows of cylinders."""
        return 2 if self.layout == "vee" else 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Generation:
    """An as-built generation of control, in the tree of its ancestors."""

    id: str
    title: str
    built: tuple[int, int | None]
    families: tuple[str, ...]
    driven: tuple[str, ...] = ()
    """Empty: any driven machine."""
    grew_from: tuple[str, ...] = ()
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """A field kit that replaces several places at once on a host of an older generation."""

    id: str
    title: str
    built: tuple[int, int | None]
    hosts: Mapping[str, float]
    """Generation of the host to the share of such hosts that carry the kit."""
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """How common each generation is, for some families and one kind of driven machine."""

    families: tuple[str, ...]
    driven: str
    of: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelPattern:
    """How a label of one generation is built: ``9`` a digit, ``A`` a capital letter, all else stands for itself."""

    id: str
    title: str
    patterns: tuple[str, ...]
    of: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """Rates of the inference; start values by judgement, to be refitted from confirmed visits."""

    swapped: float = 0.06
    unlisted: float = 0.03
    unknown_build: float = 0.02
    plate_moved: float = 0.25
    new_rivets: tuple[float, float] = (0.40, 0.15)
    """Chance of new rivets if the plate was moved, if it stayed."""
    number_differs: tuple[float, float] = (0.90, 0.10)
    """Chance that block and plate differ in number if the plate was moved, if it stayed."""
    kinds: Mapping[str, float] = field(default_factory=dict)
    """Error rate by way of seeing, where it differs from the start values (see `asfound.fitout.seeing`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """One thing a character can look like."""

    id: str
    title: str
    picture: str = ""
    absent: bool = False
    """'Looked, not there' means this state."""
    patterns: tuple[str, ...] = ()
    """Of a label: how it is built."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Character:
    """Something that can be seen of whatever sits in a slot."""

    id: str
    title: str
    states: Mapping[str, State]
    kind: Literal["states", "label", "count", "text"] = "states"
    settings: bool = False
    """True: tells nothing of the variant; rules and interchange use it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueLook:
    """A way of looking at a slot: what it shows, in which state of the engine, at what cost."""

    id: str
    state: str
    minutes: float
    sees: tuple[str, ...]
    says: str = ""
    how: str = "at_part"
    hazards: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """Units that take thermocouples: strips, cards, a scanner."""

    kind: str
    entries: tuple[int, ...]
    """Sizes that exist."""
    group_by_group: bool = False
    groups: tuple[str, ...] = ("exhaust", "bearings", "hot_side")


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """One thing that can sit in a slot, and what it shows."""

    id: str
    title: str
    native: Mapping[str, float] = field(default_factory=dict)
    """Generation to the share of its engines that were built with it."""
    kits: tuple[str, ...] = ()
    of: str = ""
    """Generation it belongs to where it is native to none in this slot (a unit of another place or family)."""
    outside: Outside = "m"
    states: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    """Character to (state to probability); ``inapplicable`` where it cannot have the character."""
    share: float | Mapping[str, float] | None = None
    """In a slot that stands apart from the generations: how common it is, for all families or by family."""
    units: Units | None = None
    consequence: str = ""
    misread: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A place of the engine where one of several variants sits."""

    id: str
    title: str
    group: str
    side: Literal["left", "right"]
    along: float | None
    """0 flywheel end to 1 free end; None: at the turbochargers' end."""
    drawn_as: str
    where: str
    characters: Mapping[str, Character]
    looks: tuple[CatalogueLook, ...]
    variants: Mapping[str, Variant]
    hazards: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    """Empty: all."""
    evidence_only: bool = False
    apart: bool = False
    swapped: float | None = None
    """Chance that it holds a unit of another generation, where it differs from the rate of the catalogue (a wearing
    part).
    """
    free: bool = False
    """True for a generic slot: its states are suggestions, and own words are kept beside them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """State of the engine that a look may need, and what it costs to get there."""

    id: str
    title: str
    minutes: float
    risk_minutes: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Catalogue:
    """All that can be fitted, as one body of knowledge with its digest."""

    name: str
    title: str
    edition: int
    source: str
    digest: str
    """SHA-256 over names and content of the files: what a record cites."""
    rates: Rates
    families: Mapping[str, Family]
    generations: Mapping[str, Generation]
    kits: Mapping[str, Kit]
    shares: tuple[Shares, ...]
    label_patterns: Mapping[str, LabelPattern]
    setups: Mapping[str, Setup]
    slots: Mapping[str, Slot]
    documents: Mapping[str, Document]
    document_clashes: tuple[DocumentClash, ...]
    bulletins: Mapping[str, Bulletin]
    software: Mapping[str, Software]
    spares: Mapping[str, Spare]
    interchange: tuple[Interchange, ...]
    rules: tuple[Rule, ...]

    def family(self, name: str) -> Family:
        """Return a family; UnknownNameError with the nearest names when there is none."""
        return _named("family", name, self.families)

    def slot(self, name: str) -> Slot:
        """Return a slot; UnknownNameError with the nearest names when there is none."""
        return _named("slot", name, self.slots)

    def variant(self, slot: str, name: str) -> Variant:
        """Return a variant of a slot; UnknownNameError when there is none."""
        return _named(f"variant of {slot}", name, self.slot(slot).variants)

    def owner_title(self, name: str) -> str:
        """Return the title of a generation or kit."""
        if name in self.generations:
            return self.generations[name].title
        return _named("generation or kit", name, self.kits).title

    def slots_of(self, family: str) -> tuple[Slot, ...]:
        """Return the slots that engines of a family have (all, where the family is not known), in catalogue order."""
        return tuple(one for one in self.slots.values() if not family or not one.families or family in one.families)

    @cached_property
    def compiled(self) -> dict[object, object]:
        """Inference models made from this catalogue, by engine (see `asfound.fitout.model`)."""
        return {}


T = TypeVar("T")


def _named(kind: str, name: str, known: Mapping[str, T]) -> T:
    try:
        return known[name]
    except KeyError:
        raise UnknownNameError(kind, name, known) from None


def load_catalogue(path: str | Path | None = None) -> Catalogue:
    """Return a catalogue: the packaged demo world, or the YAML files of a folder (or one file).

    Raises
    ------
    KnowledgeError
        File, line and column of what is wrong, what stands there and what may stand there.
    """
    from asfound.fitout.schema import read_catalogue

    if path is None:
        return _packaged()
    return read_catalogue(_files_of(Path(path)))


@lru_cache(maxsize=1)
def _packaged() -> Catalogue:
    from asfound.fitout.schema import read_catalogue
    from asfound.sources.tables import package_folder, read_text

    package, where = "asfound.fitout", "data/ebbingstoke"
    names = sorted(one.name for one in (package_folder(package) / where).iterdir() if one.name.endswith(".yaml"))
    return read_catalogue([(name, read_text(package, f"{where}/{name}")) for name in names])


def _files_of(path: Path) -> list[tuple[str, str]]:
    from asfound.errors import KnowledgeError

    paths = sorted(path.glob("*.yaml")) if path.is_dir() else [path]
    if not paths or not all(one.is_file() for one in paths):
        raise KnowledgeError(
            str(path), 1, 1, "there is no catalogue here.", allowed="a folder with .yaml files, or one file"
        )
    found = []
    for one in paths:
        try:
            found.append((str(one), one.read_text(encoding="utf-8-sig")))
        except UnicodeDecodeError as error:
            raise KnowledgeError(str(one), 1, 1, f"the file is not UTF-8 text ({error.reason}).") from error
    return found
