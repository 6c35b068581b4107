"""What could be looked at, and what has to be done first."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Look:
    """Something that could be looked at, read or asked.

    Parameters
    ----------
    id : str
    reveals : tuple of str
        Characters that it shows together; ``as_built`` (AS_BUILT) for what a plate or paper says of the lineage.
    kind : str
        Name of one of the model's kinds.
    minutes : float
        Its own time, without the set-up.
    setup : str, optional
        What has to be done first and is shared with other looks (a cover off).
    allowed : bool
        False: not allowed now; it is listed with ``why_not`` and never hidden.
    undecided_chance : float
        Chance that one cannot tell. Own settings: 0.1 from outside, 0.03 at the part. [-]
    source : str, optional
        The one witness that speaks (a plate, a person): right or wrong as a whole. Skipped once it has been asked.
    """

    id: str
    reveals: tuple[str, ...]
    kind: str
    minutes: float
    setup: str | None = None
    allowed: bool = True
    why_not: str = ""
    undecided_chance: float = 0.1
    source: str | None = None


@dataclass(frozen=True, slots=True)
class Setup:
    """What several looks need first; paid once.

    ``risk_minutes`` is the price of its risk, in minutes. ``paid``: it is done already, so it costs nothing more.
    """

    name: str
    minutes: float
    risk_minutes: float = 0.0
    paid: bool = False
