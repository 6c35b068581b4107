"""What to look at next: value of each look per minute, with shared set-ups, looks not allowed now, groups, and when to stop."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from asfound.evidence.model import Model
    from asfound.evidence.observations import Evidence
    from asfound.evidence.posterior import Belief


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


@dataclass(frozen=True, slots=True)
class Outcome:
    """One thing that a look may show, and what it would make of the belief.

    ``states`` has one state per revealed character. ``top`` is the lineage that would lead, with ``top_probability``.
    """

    states: tuple[str, ...]
    probability: float
    top: str
    top_probability: float
    lineages: dict[str, float]


@dataclass(frozen=True)
class RankedLook:
    """A look with its worth.

    Attributes
    ----------
    id : str
    bits : float
        Expected information about the target, the chance of 'could not tell' taken off. [bit]
    share_of_doubt : float
        ``bits`` over the target's present entropy. [0 to 1]
    minutes : float
        Its own time, the set-up not yet paid, and the price of its risk. [min]
    score : float
        What it is ranked by: worth per minute (bits, loss saved, or weight of edges cut; per two steps where looked ahead).
    worth : float
        Worth by the criterion before division by minutes.
    allowed, why_not, setup, reveals, again
        ``again``: another way of seeing something that could not be told before.
    outcomes : tuple of Outcome
        Most probable first; computed when asked for.
    """

    id: str
    reveals: tuple[str, ...]
    kind: str
    setup: str | None
    bits: float
    share_of_doubt: float
    minutes: float
    score: float
    worth: float
    allowed: bool
    why_not: str
    again: bool
    _outcomes: Callable[[], tuple[Outcome, ...]] = field(repr=False, compare=False)

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """What it may show, most probable first."""
        return self._outcomes()


@dataclass(frozen=True, slots=True)
class RankedGroup:
    """The best looks behind one set-up together, the set-up paid once."""

    setup: str
    looks: tuple[str, ...]
    bits: float
    share_of_doubt: float
    minutes: float
    score: float
    allowed: bool
    why_not: str


@dataclass(frozen=True, slots=True)
class Stop:
    """Why to stop looking, what remains possible, and which look elsewhere would tell more.

    ``classes``: lineages that no allowed look can tell apart, with their sum, most probable first.
    ``elsewhere``: looks not allowed now that would tell the leading class apart.
    """

    reason: Literal["sure_enough", "same_action", "nothing_worth"]
    says: str
    remaining: tuple[tuple[str, float], ...]
    classes: tuple[tuple[tuple[str, ...], float], ...]
    elsewhere: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ranking:
    """Allowed looks by score, groups by score, looks not allowed now, and whether to stop."""

    looks: tuple[RankedLook, ...]
    groups: tuple[RankedGroup, ...]
    not_allowed: tuple[RankedLook, ...]
    stop: Stop | None
    doubt: float
    looked_ahead: bool


def rank(
    model: Model,
    observations: Sequence[Evidence] | Belief,
    looks: Sequence[Look],
    setups: Sequence[Setup] = (),
    *,
    target: str = "lineage",
    loss: Mapping[str, Mapping[str, float]] | None = None,
    decisions: Mapping[str, str] | None = None,
    criterion: Literal["bits", "loss", "ec2"] = "bits",
    lookahead: bool | Literal["auto"] = "auto",
    wrong_cost: float | None = None,
    worth_looking: float = 0.01,
) -> Ranking:
    """Return what to look at next.

    Parameters
    ----------
    observations : sequence of observations, or the Belief they gave
    target : str
        ``"lineage"``, the name of a slot, or ``"all"`` (the lineage and every slot together).
    loss : mapping of action to (mapping of hypothesis of the target to loss), optional
        Needed by ``criterion="loss"``: expected loss saved (EVSI) instead of bits.
    decisions : mapping of hypothesis to decision, optional
        Hypotheses that lead to the same action; used by ``criterion="ec2"`` and by the stopping rule.
    wrong_cost : float, optional
        Cost of acting on a wrong lineage. [min]
    worth_looking : float
        Below this no look is worth its trouble. [bit]
    """
    raise NotImplementedError
