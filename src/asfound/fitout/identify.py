"""From looks to belief: what is really fitted on one engine.

>>> from asfound.fitout.catalogue import load_catalogue
>>> engine = EngineFacts(tag="A2", family="HM9", driven="compressor")
>>> identify(load_catalogue(), engine, []).words
'open'
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from asfound.fitout.catalogue import Catalogue
from asfound.fitout.identification import Identification
from asfound.fitout.looks import SeenLook

__all__ = ["EngineFacts", "Identification", "SeenLook", "identify"]


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
    """Plate as the record has it: ``family``, ``works_number``, ``generation`` (used when no look at the nameplate says it)."""
    in_store: tuple[str, ...] = ()
    """Ids of spares of the catalogue that lie in the store for this engine."""
    papers: tuple[str, ...] = ()
    """Ids of documents found in the cupboard, with revision after a blank: ``VR-12 c``."""
    hydrogen_sulphide: float | None = None
    """Of the fuel gas, for bulletins that depend on it; None: not known here. [mol/mol]"""


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

    Raises
    ------
    InputError
        A look names a slot, character or state that neither the catalogue nor the generic list has.
    """
    raise NotImplementedError
