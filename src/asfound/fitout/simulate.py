"""Try a catalogue out before it meets an engine: how many looks and minutes until right, for each build.

Engines are drawn from the catalogue's own rates: a build, then each place native, swapped or unlisted. Looks are made
in
the order in which the program would propose them; what is seen is drawn with the error of the way of seeing. The same
seed gives the same table. It says how good the catalogue is if its rates are true, not how good its rates are.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from asfound import evidence as ev
from asfound.evidence.model import AS_BUILT
from asfound.evidence.observations import Evidence, Observation
from asfound.evidence.posterior import posterior
from asfound.fitout.engine_facts import EngineFacts
from asfound.fitout.model import FitModel, fit_model
from asfound.fitout.next_looks import offers, setups

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue

SURE = 0.95
MOST_LOOKS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One engine drawn and identified."""

    build: str
    found: str
    probability: float
    looks: int
    minutes: float
    swapped: int
    """Places that did not hold what the build was made with."""

    @property
    def right(self) -> bool:
        """Whether the build found is the one drawn."""
        return self.build == self.found


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedRow:
    """One build over its trials."""

    build: str
    title: str
    trials: int
    right: float
    """Share of trials that ended at the right build."""
    sure_and_wrong: float
    """Share that ended sure of a wrong one (0.95 or more)."""
    looks: float
    """Mean looks until sure or no look was worth it."""
    minutes: float
    looks_90: float
    """Nine in ten need no more."""
    swapped: float
    """Mean places swapped or unlisted."""

    def as_dict(self) -> dict[str, Any]:
        """Return the fields."""
        return asdict(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulated:
    """The table, one row for each build, and the whole weighted by how common each is."""

    rows: tuple[SimulatedRow, ...]
    whole: SimulatedRow
    seed: int
    expected_right: float
    """Mean belief at the end: what the share right should be if the model is calibrated."""

    def text(self) -> str:
        """Return the table as text."""
        heads = (
            ("engines", 8),
            ("right", 8),
            ("sure, wrong", 13),
            ("looks", 7),
            ("9 in 10", 9),
            ("minutes", 9),
            ("swapped", 9),
        )
        head = f"{'build':<34}" + "".join(f"{name:>{width}}" for name, width in heads)
        lines = [
            f"{one.title[:33]:<34}{one.trials:>8}{one.right:>8.3f}{one.sure_and_wrong:>13.3f}{one.looks:>7.1f}"
            f"{one.looks_90:>9.0f}{one.minutes:>9.0f}{one.swapped:>9.1f}"
            for one in (*self.rows, self.whole)
        ]
        return "\n".join([head, *lines, f"belief at the end, on average: {self.expected_right:.3f} (seed {self.seed})"])


def simulate(
    catalogue: Catalogue,
    engine: EngineFacts,
    *,
    trials: int = 20,
    seed: int = 1,
    allowed: Sequence[str] = ("running",),
    sure: float = SURE,
    most_looks: int = MOST_LOOKS,
) -> Simulated:
    """Return how many looks and minutes it takes until right, for each build of a kind of engine.

    Parameters
    ----------
    catalogue : Catalogue
    engine : EngineFacts
        Kind of engine: family and drive. Its plate is not used.
    trials : int
        Engines drawn for each build, the unknown one included.
    seed : int
    allowed : sequence of str
        States of the engine in which looks may be made.
    sure : float
        Belief at which one stops looking. [0 to 1]
    most_looks : int
        Looks after which one gives up.
    """
    fit = fit_model(catalogue, engine)
    names = fit.model.lineage_names
    prior = fit.model.compiled.prior
    all_trials: dict[str, list[Trial]] = {}
    for number, name in enumerate(names):
        random = np.random.default_rng([seed, number])
        all_trials[name] = [
            _trial(fit, engine, name, random, allowed=allowed, sure=sure, most_looks=most_looks) for _ in range(trials)
        ]
    rows = tuple(_row(name, _title(fit, name), some) for name, some in all_trials.items())
    weights = {name: float(prior[n]) for n, name in enumerate(names)}
    believed = sum(
        weights[name] * float(np.mean([one.probability for one in some])) for name, some in all_trials.items()
    )
    return Simulated(rows=rows, whole=_whole(rows, weights), seed=seed, expected_right=believed)


def _title(fit: FitModel, name: str) -> str:
    found = fit.build(name)
    return found.title if found else "not in the catalogue"


def _row(name: str, title: str, trials: Sequence[Trial]) -> SimulatedRow:
    looks = np.array([one.looks for one in trials], dtype=float)
    return SimulatedRow(
        build=name,
        title=title,
        trials=len(trials),
        right=float(np.mean([one.right for one in trials])),
        sure_and_wrong=float(np.mean([not one.right and one.probability >= SURE for one in trials])),
        looks=float(looks.mean()),
        minutes=float(np.mean([one.minutes for one in trials])),
        looks_90=float(np.quantile(looks, 0.9, method="higher")),
        swapped=float(np.mean([one.swapped for one in trials])),
    )


def _whole(rows: Sequence[SimulatedRow], weights: dict[str, float]) -> SimulatedRow:
    def mean(name: str) -> float:
        return sum(weights[one.build] * float(getattr(one, name)) for one in rows)

    return SimulatedRow(
        build="",
        title="all, as common as they are",
        trials=sum(one.trials for one in rows),
        right=mean("right"),
        sure_and_wrong=mean("sure_and_wrong"),
        looks=mean("looks"),
        minutes=mean("minutes"),
        looks_90=mean("looks_90"),
        swapped=mean("swapped"),
    )


def drawn_engine(fit: FitModel, build: str, random: np.random.Generator) -> dict[str, str]:
    """Return the variant in each place of an engine drawn from a build, with swaps and unlisted units by their
    rates.
    """
    arrays = fit.model.compiled
    g = fit.model.lineage_names.index(build)
    found = {}
    for s, slot in enumerate(fit.model.slots):
        chances = arrays.given[s, g, : arrays.sizes[s]]
        found[slot.name] = fit.model.variant_names(slot.name)[
            int(random.choice(len(chances), p=chances / chances.sum()))
        ]
    return found


def drawn_state(fit: FitModel, character: str, variant: str, kind: str, random: np.random.Generator) -> str:
    """Return what is seen of a character of a variant, with the error of the way of seeing."""
    arrays = fit.model.compiled
    k = fit.model.character_index(character)
    one = fit.model.characters[k]
    v = fit.model.variant_names(one.slot).index(variant)
    wrong = random.random() < fit.model.kind(kind).error
    chances = arrays.background[k] if wrong else arrays.theta[k][v]
    return one.states[int(random.choice(len(one.states), p=chances / chances.sum()))]


def _trial(
    fit: FitModel,
    engine: EngineFacts,
    build: str,
    random: np.random.Generator,
    *,
    allowed: Sequence[str],
    sure: float,
    most_looks: int,
) -> Trial:
    variants = drawn_engine(fit, build, random)
    looks = [
        one.look
        for one in offers(fit, allowed)
        if one.look.reveals != (AS_BUILT,) and one.look.allowed and not one.slot.apart
    ]
    kinds = {one.id: one.kind for one in looks}
    evidence: list[Evidence] = []
    made: set[str] = set()
    minutes = 0.0
    belief = posterior(fit.model, evidence)
    for _ in range(most_looks):
        if belief.lineages[belief.top] >= sure:
            break
        left = [one for one in looks if one.id not in made]
        ranking = ev.rank(fit.model, belief, left, setups(fit, engine.state), lookahead=False)
        if not ranking.looks or ranking.looks[0].bits < 1e-3:
            break
        best = ranking.looks[0]
        made.add(best.id)
        minutes += best.minutes
        chance = next(one.undecided_chance for one in looks if one.id == best.id)
        character = best.reveals[0]
        if random.random() < chance:
            evidence.append(Observation(character, (), kinds[best.id], id=best.id, undecided=True))
        else:
            slot = fit.model.character(character).slot
            state = drawn_state(fit, character, variants[slot], kinds[best.id], random)
            evidence.append(Observation(character, (state,), kinds[best.id], id=best.id))
        belief = posterior(fit.model, evidence)
    return Trial(
        build=build,
        found=belief.top,
        probability=belief.lineages[belief.top],
        looks=len(made),
        minutes=minutes,
        swapped=sum(1 for _ in _swapped(fit, build, variants)),
    )


def _swapped(fit: FitModel, build: str, variants: dict[str, str]) -> Iterator[str]:
    """Yield the places that do not hold what the build was made with."""
    lineage = next((one for one in fit.model.lineages if one.name == build), None)
    for slot, variant in variants.items():
        native = lineage.native.get(slot) if lineage else None
        if native is not None and variant not in ({native} if isinstance(native, str) else set(native)):
            yield slot


def kinds_of_engine(catalogue: Catalogue) -> Iterable[EngineFacts]:
    """Yield one engine for each row of shares and family: all kinds that a catalogue speaks of."""
    for row in catalogue.shares:
        for family in row.families:
            yield EngineFacts(tag=f"{family} {row.driven}", family=family, driven=row.driven)  # type: ignore[arg-type]
