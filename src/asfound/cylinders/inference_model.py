"""The knowledge of odd cylinders as a model of `evidence`: what witnesses say becomes observations.

A number is never sorted into 'high' or 'low' by a wall: each state gets the density of that number there, its own
uncertainty added, and the inference weighs all states. The densities have heavy tails, so that one wild number does not
decide alone: 98 in 100 normal, 2 in 100 normal with three times the spread (Tukey's contaminated normal).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from asfound.cylinders.inference_knowledge import SIDES, Knowledge, Witness
from asfound.errors import InputError, UnknownNameError
from asfound.evidence import OTHER, Character, Kind, Lineage, LineageStatement, Model, Observation, Slot

SLOT = "cylinder"
ERRORS = {"measured": 0.002, "read": 0.01, "seen": 0.05, "paper": 0.25, "hearsay": 0.35}
"""How an observation is made, and the chance that it has nothing to do with what is there (engineering judgement)."""
OUTLIERS = 0.02
"""Share of numbers with three times the spread (Tukey 1960)."""
WIDER = 3.0
Side = str
SIDES_AND_OTHER: tuple[Side, ...] = (*SIDES, OTHER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """What one witness says of one cylinder, or of its whole bank.

    Parameters
    ----------
    witness : str
        Its name in the knowledge.
    states : tuple of str
        What was seen; several where one could not choose between them. Empty for a number.
    value, u : float
        The number in the unit of the witness, and its standard uncertainty in the same unit.
    how : str
        One of ``measured``, ``read``, ``seen``, ``paper``, ``hearsay``.
    by : str
        Who says so, for what was told or written: all that one person tells is one witness.
    could_not_tell : bool
        Somebody looked and could not tell: it weighs nothing, and is not the same as 'not looked'.
    because : tuple of str
        Keys of the readings behind it.
    says : str
        The number or the sight in words, for people.
    """

    witness: str
    states: tuple[str, ...] = ()
    value: float | None = None
    u: float = 0.0
    how: str = "seen"
    by: str = ""
    could_not_tell: bool = False
    because: tuple[str, ...] = ()
    says: str = ""


@cache
def model_of(known: Knowledge) -> Model:
    """Return the model: causes are the lineages, one slot carries them, each witness is a character."""
    causes = tuple(known.causes)
    characters = [
        Character(one.name, SLOT, tuple(one.states), {cause: dict(one.given[cause]) for cause in causes}, one.title)
        for one in known.witnesses.values()
    ]
    kinds = [
        Kind(f"{how}, {wire}", error, wrong=wrong, slip=error)
        for wire, wrong in known.wire_wrong.items()
        for how, error in ERRORS.items()
    ]
    return Model(
        [Lineage(one.name, one.prior, {SLOT: one.name}, one.title) for one in known.causes.values()],
        [Slot(SLOT, causes, mu=0.0, w=0.0)],
        characters,
        kinds,
        unknown=known.unlisted,
        wrong_prior=dict.fromkeys(causes, 1.0 / len(causes)),
    )


def witness_of(known: Knowledge, statement: Statement) -> Witness:
    """Return the witness that speaks.

    Raises
    ------
    UnknownNameError
        The knowledge has no witness, state or manner of that name.
    InputError
        It says nothing, or a number that is none.
    """
    found = known.witnesses.get(statement.witness)
    if found is None:
        raise UnknownNameError("witness", statement.witness, known.witnesses)
    if statement.how not in ERRORS:
        raise UnknownNameError("way of observing", statement.how, ERRORS)
    for state in statement.states:
        if state not in found.states:
            raise UnknownNameError(f"state of {found.name}", state, found.states)
    if statement.could_not_tell:
        return found
    if statement.value is None:
        if not statement.states:
            raise InputError(found.name, "", "says nothing", try_next="Tick a state, or say that you could not tell.")
        return found
    if not (math.isfinite(statement.value) and math.isfinite(statement.u) and statement.u >= 0):
        raise InputError(found.name, f"{statement.value:g} ± {statement.u:g}", "is no number with its uncertainty")
    if not found.measured:
        raise InputError(found.name, f"{statement.value:g}", "is a number, this witness has none", allowed="a state")
    return found


def spoken(known: Knowledge, statement: Statement) -> dict[str, float]:
    """Return the likelihood of what is said for each state of its witness, the greatest 1."""
    witness = witness_of(known, statement)
    if statement.value is None:
        return {state: float(state in statement.states) for state in witness.states}
    logs = {
        name: log_density(statement.value, one.mean, math.hypot(one.sd or 0.0, statement.u))
        for name, one in witness.states.items()
        if one.mean is not None
    }
    top = max(logs.values())
    return {name: math.exp(logs[name] - top) if name in logs else 0.0 for name in witness.states}


def log_density(x: float, mean: float, sd: float) -> float:
    """Return the logarithm of the contaminated normal density.

    >>> round(log_density(0.0, 0.0, 1.0), 4)  # ln(0.98 + 0.02 / 3) - ln sqrt(2 pi)
    -0.9324
    """
    z = (x - mean) / sd
    near = math.log(1 - OUTLIERS) - 0.5 * z * z
    far = math.log(OUTLIERS / WIDER) - 0.5 * (z / WIDER) ** 2
    top = max(near, far)
    return top + math.log(math.exp(near - top) + math.exp(far - top)) - math.log(sd * math.sqrt(2 * math.pi))


def likelihood(known: Knowledge, statement: Statement, others: Sequence[Mapping[str, float]] = ()) -> dict[str, float]:
    """Return the likelihood of a statement for each cause, up to a common factor.

    Parameters
    ----------
    known : Knowledge
    statement : Statement
    others : sequence of mapping of cause to probability
        What is believed of the other odd cylinders that a shared witness sees as well. Its first state is 'nothing
        moved': that holds only if none of them moves it.
    """
    witness = witness_of(known, statement)
    said = spoken(known, statement)
    rows = others_rows(witness, others) if witness.shared else []
    out = {}
    for cause, row in witness.given.items():
        shares = beside_others(witness, row, rows) if rows else row
        out[cause] = sum(said[state] * share for state, share in shares.items())
    return out


def others_rows(witness: Witness, others: Sequence[Mapping[str, float]]) -> list[dict[str, float]]:
    """Return for each other cylinder what it alone would make the witness say."""
    rows = []
    for believed in others:
        named = {cause: p for cause, p in believed.items() if cause in witness.given}
        total = sum(named.values())
        rows.append(
            {
                state: sum(p * witness.given[cause][state] for cause, p in named.items()) / total
                for state in witness.states
            }
        )
    return rows


def beside_others(witness: Witness, own: Mapping[str, float], rows: Sequence[Mapping[str, float]]) -> dict[str, float]:
    """Return what a shared witness says when this cylinder and others may each move it.

    Noisy 'or': unmoved only if nobody moves it (relative to how often it moves by itself); how it moves is shared out
    by who could have moved it.
    """
    quiet = next(iter(witness.states))
    alone = max(row[quiet] for row in witness.given.values())
    unmoved = own[quiet]
    for row in rows:
        unmoved *= min(row[quiet] / alone, 1.0)
    weight = {state: own[state] + sum(row[state] for row in rows) for state in witness.states if state != quiet}
    total = sum(weight.values()) or 1.0
    return {quiet: unmoved} | {state: (1 - unmoved) * share / total for state, share in weight.items()}


def observed(
    known: Knowledge, statements: Sequence[Statement], others: Sequence[Mapping[str, float]] = ()
) -> list[Observation | LineageStatement]:
    """Return the statements as observations; those of one wire, or of one person, hang together."""
    sources = [source_of(known, one) for one in statements]
    out: list[Observation | LineageStatement] = []
    for i, (one, source) in enumerate(zip(statements, sources, strict=True)):
        bound = source if source is not None and sources.count(source) > 1 else None
        name, kind = f"{one.witness}#{i + 1}", kind_of(known, one)
        if one.could_not_tell:
            witness_of(known, one)
            out.append(Observation(one.witness, (), kind, id=name, undecided=True))
        elif others and known.witnesses[one.witness].shared:
            out.append(LineageStatement((), kind, source=bound, id=name, likelihood=likelihood(known, one, others)))
        else:
            out.append(Observation(one.witness, (), kind, likelihood=spoken(known, one), source=bound, id=name))
    return out


def kind_of(known: Knowledge, statement: Statement) -> str:
    """Return the kind of observation in the model: how it was made, and on which wire."""
    wire = witness_of(known, statement).wire
    told = statement.how in ("paper", "hearsay")
    return f"{statement.how}, {wire if wire in known.wire_wrong and not told else 'otherwise'}"


def source_of(known: Knowledge, statement: Statement) -> str | None:
    """Return what statements hang together by: the person where it was told or written, else the wire."""
    if statement.could_not_tell:
        return None
    if statement.how in ("paper", "hearsay"):
        return f"told by {statement.by}" if statement.by else None
    return witness_of(known, statement).wire
