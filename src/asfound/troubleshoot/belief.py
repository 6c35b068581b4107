"""From what was seen to the causes, ranked: symptoms, tests and failed repairs each weigh once.

One cause is taken to be present; beside the causes of the file stands one more, *something else, or more than one*. It
starts with a chance of its own, shows everything with the background chance, and can never fall below ``FLOOR``: this
much is kept back from the sum of all rules, because no file knows every engine (own settings, no source).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from asfound.errors import InputError, UnknownNameError
from asfound.troubleshoot.knowledge import Knowledge

Floats = NDArray[np.float64]
OTHER = "other"
OTHER_TITLE = "something else, or more than one"
OTHER_PRIOR = 0.05
"""Chance of it before anything is known (own setting)."""
FLOOR = 0.02
"""Share of belief kept for it whatever was seen (own setting)."""
UNASKED = 0.2
"""Chance that a symptom that shows would have been mentioned unasked (own setting)."""
UNDECIDED = ("not_judged", "not_done")
SYMPTOM_SAYS = ("present", "absent", "not_judged")
TEST_SAYS = ("positive", "negative", "not_judged", "not_done")
REPAIR_SAYS = ("cured", "fails", "not_judged", "not_done")
BY_CHANCE = 0.02
"""Chance that the fault goes with a repair that has nothing to do with it: something was moved (own setting)."""
Weighs = Literal["yes", "undecided", "already told", "contradicted", "does not apply", "before a change"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Witness:
    """One thing that was seen, tried, or said by a finding of another room, and whether it weighs.

    ``code`` is the finding's code, empty for a person. A finding about what a person has told already does not weigh
    a second time; where it says the contrary, that is shown as a contradiction, and the person's word stands. Findings
    that contradict each other (two cylinders, say) weigh nothing until a person decides. What was told of a part that a
    repair has changed since, in vain, was of another engine (``before a change``): it weighs nothing and may be made
    again.
    """

    about: str
    says: str
    code: str = ""
    weighs: Weighs = "yes"


class Odds:
    """The chances of a knowledge file as arrays: rows are its causes, then `OTHER`.

    ``shows`` [causes + 1, symptoms], ``positive`` [causes + 1, tests], ``cured`` [causes + 1, repairs], ``prior``
    [causes + 1]; columns in the order of the file.
    """

    def __init__(self, knowledge: Knowledge, *, other_prior: float = OTHER_PRIOR) -> None:
        if not 0 < other_prior < 1:
            raise InputError("other_prior", f"{other_prior}", "is no chance", allowed="above 0, below 1")
        self.knowledge = knowledge
        self.causes = (*knowledge.causes, OTHER)
        self.symptoms, self.tests, self.repairs = map(tuple, (knowledge.symptoms, knowledge.tests, knowledge.repairs))
        causes = knowledge.causes.values()
        weight = np.array([one.prior for one in causes], dtype=float)
        self.prior = np.append(weight / weight.sum() * (1 - other_prior), other_prior)
        self.shows = _with_other(
            [[one.leads_to.get(symptom, knowledge.unlisted) for symptom in self.symptoms] for one in causes]
        )
        self.positive = _with_other(
            [[one.given.get(cause, one.otherwise) for one in knowledge.tests.values()] for cause in knowledge.causes]
        )
        cured = [[one.fixes.get(cause, 0.0) for one in knowledge.repairs.values()] for cause in knowledge.causes]
        self.cured = np.vstack([np.array(cured), np.zeros(len(self.repairs))])
        self.place = {name: i for names in (self.symptoms, self.tests, self.repairs) for i, name in enumerate(names)}

    def title(self, cause: str) -> str:
        """Return the words for a cause."""
        return OTHER_TITLE if cause == OTHER else self.knowledge.causes[cause].title

    def likelihood(self, about: str, says: str) -> Floats:
        """Return P(this is said | cause) [causes + 1]; ones where nothing was decided.

        Raises
        ------
        UnknownNameError
            ``about`` is neither symptom, test nor repair of this engine.
        InputError
            ``says`` is nothing that can be said of it.
        """
        table: Floats
        allowed: tuple[str, ...]
        if about in self.knowledge.symptoms:
            table, allowed, yes = self.shows, SYMPTOM_SAYS, "present"
        elif about in self.knowledge.tests:
            table, allowed, yes = self.positive, TEST_SAYS, "positive"
        elif about in self.knowledge.repairs:
            table, allowed, yes = self.cured, REPAIR_SAYS, "cured"
        else:
            raise UnknownNameError("symptom, test or repair", about, (*self.symptoms, *self.tests, *self.repairs))
        if says not in allowed:
            raise InputError(about, says, "cannot be said of it", allowed=", ".join(allowed))
        if says in UNDECIDED:
            return np.ones(len(self.causes))
        p: Floats = table[:, self.place[about]]
        if says == "cured":
            return np.maximum(p, BY_CHANCE)
        return p if says == yes else 1 - p


def _with_other(rows: list[list[float]]) -> Floats:
    """Return the table with the row of `OTHER`: half the plain mean over all causes, half undecided (0.5)."""
    table = np.array(rows, dtype=float)
    return np.vstack([table, 0.5 * table.mean(axis=0) + 0.25])


def _chances(log_weight: Floats) -> Floats:
    """Return weights as chances, with the share that is kept for `OTHER`."""
    weight = np.exp(log_weight - log_weight.max())
    p: Floats = weight / weight.sum() * (1 - FLOOR)
    p[-1] += FLOOR
    return p


@dataclass(frozen=True, eq=False)
class Belief:
    """Causes with their chances, and what they rest on. ``p`` [causes + 1] adds up to 1 and is nowhere 0 or 1."""

    odds: Odds
    witnesses: tuple[Witness, ...]
    log_weight: Floats
    """Log of prior times likelihood of all that weighs [causes + 1]."""

    @cached_property
    def p(self) -> Floats:
        """Chance of each cause; `OTHER` is last and never below `FLOOR`."""
        return _chances(self.log_weight)

    def after(self, about: str, says: str) -> Floats:
        """Return the chances that one thing more told would leave [causes + 1]."""
        return _chances(self.log_weight + np.log(self.odds.likelihood(about, says)))

    @property
    def told(self) -> frozenset[str]:
        """All symptoms, tests and repairs about which anything was said that still holds, undecided or not."""
        return frozenset(one.about for one in self.witnesses if one.weighs != "before a change")

    def ranked(self) -> tuple[tuple[str, float], ...]:
        """Return causes with their chances, the most probable first; equal ones in the order of the file."""
        order = np.argsort(-np.round(self.p, 12), kind="stable")
        return tuple((self.odds.causes[i], float(self.p[i])) for i in order)

    def doubt(self) -> float:
        """Return the entropy. [bit]"""
        return float(-(self.p * np.log2(self.p)).sum())

    def urgent(self) -> tuple[str, ...]:
        """Return the symptoms seen for which it is decided first whether the engine runs on."""
        seen = [one.about for one in self.witnesses if one.says == "present" and one.weighs == "yes"]
        known = self.odds.knowledge.symptoms
        return tuple(name for name in known if name in seen and known[name].urgent)

    def decibans(self, cause: str, against: str) -> tuple[tuple[Witness, float], ...]:
        """Return what each witness says for one cause against another [dB]; they and the prior's add up to the odds of
        ``log_weight``. The strongest come first.
        """
        a, b = (self.odds.causes.index(name) for name in (cause, against))
        found = []
        for one in self.witnesses:
            if one.weighs == "yes":
                p = self.odds.likelihood(one.about, one.says)
                found.append((one, 10 * float(np.log10(p[a] / p[b]))))
        return tuple(sorted(found, key=lambda pair: -abs(round(pair[1], 9))))


def believe(
    odds: Odds,
    seen: Mapping[str, str] | None = None,
    *,
    findings: Iterable[str] = (),
    unasked: float = UNASKED,
    outdated: Collection[str] = (),
) -> Belief:
    """Return what to believe after all that was seen; the order does not matter.

    Parameters
    ----------
    seen : mapping of id to word
        Symptoms ``present``, ``absent`` (looked for), ``not_judged``; tests ``positive``, ``negative``,
        ``not_judged``, ``not_done``; repairs ``cured``, ``fails``, ``not_judged``, ``not_done``.
    findings : iterable of str
        Codes of findings of this visit; codes that the knowledge does not name weigh nothing, each fact weighs once.
    unasked : float
        Chance that a symptom nobody mentioned would have been mentioned if it showed; counted once any symptom was
        told, and only where the engine runs (nothing of a running engine shows on one that does not start).
    outdated : collection of str
        Tests whose answers were of parts that have been changed since (`changes.outdated`); they weigh nothing.

    Raises
    ------
    UnknownNameError, InputError
        See `Odds.likelihood`.
    """
    witnesses = _witnesses(odds, dict(seen or {}), findings, frozenset(outdated))
    log_weight = np.log(odds.prior)
    said = {one.about: one.says for one in witnesses if one.weighs in ("yes", "undecided")}
    for about in sorted(said):  # one order for the sums, so that not even the last bit hangs on the order given
        log_weight = log_weight + np.log(odds.likelihood(about, said[about]))
    known = odds.knowledge.symptoms
    present = [name for name, says in said.items() if says == "present" and name in known]
    if unasked and present and not any(known[name].group == "starting" for name in present):
        silent = [odds.place[name] for name in known if name not in said]
        log_weight = log_weight + np.log1p(-unasked * odds.shows[:, silent]).sum(axis=1)
    return Belief(odds, witnesses, log_weight)


def _witnesses(
    odds: Odds, seen: Mapping[str, str], codes: Iterable[str], outdated: frozenset[str]
) -> tuple[Witness, ...]:
    found = []
    for about, says in seen.items():
        odds.likelihood(about, says)
        how: Weighs = "undecided" if says in UNDECIDED else "before a change" if about in outdated else "yes"
        found.append(Witness(about=about, says=says, weighs=how))
    told = {one.about: one.says for one in found if one.weighs == "yes"}
    heard = [one for code in sorted(set(codes)) for one in odds.knowledge.findings.get(code, ())]
    split = {a.about for a in heard for b in heard if a.about == b.about and a.says != b.says}
    counted: set[str] = set()
    for finding in heard:
        about, says = finding.about, finding.says
        weighs: Weighs = "yes"
        if about not in odds.place:
            weighs = "does not apply"
        elif about in outdated and about not in told:
            weighs = "before a change"
        elif told.get(about, says) != says or (about not in told and about in split):
            weighs = "contradicted"
        elif about in told or about in counted:
            weighs = "already told"
        else:
            counted.add(about)
        found.append(Witness(about=about, says=says, code=finding.code, weighs=weighs))
    return tuple(found)
