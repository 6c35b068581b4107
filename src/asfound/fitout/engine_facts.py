"""What the record knows of an engine before anybody looks: its tag, family, plate, layout, store and papers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineFacts:
    """What is known of the engine before anybody looks at its controls."""

    tag: str
    family: str = ""
    """Family of the catalogue (``HM9``); empty: not known, all families with this layout are held possible."""
    works_number: str = ""
    """As the record has it; the plate's and the block's numbers are looks."""
    driven: Literal["compressor", "generator", ""] = ""
    layout: Literal["inline", "vee", ""] = ""
    cylinders: int = 0
    turbochargers: int | None = None
    catalyst: bool | None = None
    bearings_measured: bool | None = None
    """None: not known; the channel count is then given both ways."""
    state: Literal["running", "stopped", "isolated"] = "running"
    plate: Mapping[str, str] = field(default_factory=dict)
    """Plate as the record has it: ``family``, ``works_number``, ``generation`` (used when no look at the nameplate
    says it).
    """
    in_store: tuple[str, ...] = ()
    """Ids of spares of the catalogue that lie in the store for this engine."""
    papers: tuple[str, ...] = ()
    """Ids of documents found in the cupboard, with revision after a blank: ``VR-12 c``."""
    hydrogen_sulphide: float | None = None
    """Of the fuel gas, for bulletins that depend on it; None: not known here. [mol/mol]"""
