"""The whole trouble of a visit as page, report and command show it: plain frozen data, computed by `of_case`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from asfound.sources.cautions import DEFER, Caution
from asfound.troubleshoot.belief import Weighs
from asfound.troubleshoot.closed_cases import Moved
from asfound.troubleshoot.decide import Decision
from asfound.troubleshoot.fault_names import CodeName
from asfound.troubleshoot.knowledge import Knowledge
from asfound.troubleshoot.next_test import Now
from asfound.troubleshoot.of_engine import Dropped
from asfound.troubleshoot.protections import ProtectionSaid
from asfound.troubleshoot.told import AllowedSaid, ClosedCase, ClosedSaid, FaultsRead

Phase = Literal["nothing_told", "open", "cured", "closed"]
What = Literal["symptom", "test", "repair"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SymptomRow:
    """A symptom that may be asked, and what was said of it: ``says`` is empty where nothing was."""

    id: str
    title: str
    group: str
    urgent: bool
    seen_in: tuple[str, ...]
    says: str = ""
    place: str = ""
    by: str = ""
    time: str = ""
    note: str = ""
    entry: str = ""
    codes: tuple[str, ...] = ()
    """Findings of other rooms that say something of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WitnessRow:
    """One thing that was told or found, whether it weighs, and how much it says for the leader."""

    about: str
    title: str
    what: What
    says: str
    code: str
    weighs: Weighs
    why: str
    decibans: float
    """For the leading cause against the runner-up; 0 where it does not weigh. [dB]"""
    time: str = ""
    place: str = ""
    by: str = ""
    entry: str = ""
    minutes: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseRow:
    """A cause with what is believed of it now and what was believed before anything was told."""

    id: str
    title: str
    system: str
    slot: str
    p: float
    before: float
    repairs: tuple[str, ...]
    """Repairs that cure it, the surest first."""
    mechanism: str
    kept_apart: bool
    """Whether the plan weighs it by itself; the rest is one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeliefStep:
    """Belief after one witness more."""

    label: str
    about: str
    says: str
    code: str
    time: str
    entry: str
    doubt: float
    """[bit]"""
    p: Mapping[str, float]
    """Chance of each cause that the line follows, of ``other``, and of all the rest; they add up to 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ForkCause:
    """A cause before and after an answer."""

    id: str
    title: str
    before: float
    after: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fork:
    """What one answer would make of the belief, and how probable that answer is."""

    chance: float
    leader: str
    leader_p: float
    causes: tuple[ForkCause, ...]
    doubt: float
    """Left after it. [bit]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestRow:
    """A test worth making now."""

    __test__ = False  # not a test case

    id: str
    title: str
    bits: float
    saves: float
    """Minutes that its answer is expected to save, one step ahead, its own cost taken off; below 0: by itself none."""
    cost: float
    minutes: float
    waiting: float
    state: str
    positive: str
    """What counts as positive."""
    chance_positive: float
    cautions: tuple[Caution, ...]
    moves: bool
    forks: Mapping[str, Fork]
    says: str
    """What was said of it before, where that was undecided or lies before a change."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairRow:
    """A repair with its chance to cure what is believed now."""

    id: str
    title: str
    minutes: float
    cost: float
    state: str
    chance: float
    cautions: tuple[Caution, ...]
    why_not: str
    """Why it cannot be made now; empty where it can."""
    says: str
    """What was said of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Barred:
    """A step that would be worth making and cannot be made now."""

    id: str
    title: str
    what: What
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Contradicts:
    """A person and a finding say different things, or two findings do; nobody is overruled in silence."""

    about: str
    title: str
    person: str
    finding: str
    code: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TestsDisagree:
    """Two tests that no one cause explains well together."""

    __test__ = False  # not a test case

    one: str
    other: str
    titles: tuple[str, str]
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """Everything about the trouble of a visit."""

    phase: Phase
    says: str
    knowledge: Knowledge
    generic: bool
    why_generic: str
    kinds: Mapping[str, bool]
    kinds_say: Mapping[str, str]
    fitted: Mapping[str, str]
    dropped: tuple[Dropped, ...]
    symptoms: tuple[SymptomRow, ...]
    witnesses: tuple[WitnessRow, ...]
    causes: tuple[CauseRow, ...]
    """All, the most probable first, ``other`` among them."""
    doubt: float
    doubt_before: float
    """Before anything was told. [bit]"""
    history: tuple[BeliefStep, ...]
    line_causes: tuple[str, ...]
    now: Now
    now_says: str
    allowed: AllowedSaid | None
    tests: tuple[TestRow, ...]
    barred: tuple[Barred, ...]
    made: tuple[str, ...]
    tell_nothing: tuple[str, ...]
    repairs: tuple[RepairRow, ...]
    decision: Decision | None
    """None while nothing was told, and when the case is over."""
    stop_testing: bool
    stop_says: str
    call: bool
    call_says: str
    urgent: tuple[str, ...]
    contradictions: tuple[Contradicts, ...]
    tests_disagree: tuple[TestsDisagree, ...]
    closed_cases: tuple[ClosedCase, ...]
    priors_moved: tuple[Moved, ...]
    counted: bool
    closed: ClosedSaid | None
    cases_before: int
    """Cases of this visit that were closed before this one."""
    fault_messages: tuple[FaultsRead, ...]
    code_names: Mapping[tuple[int, int | None], CodeName]
    protections: tuple[ProtectionSaid, ...]
    minutes: float
    """Spent on steps so far, as far as told. [min]"""
    before_all: str = DEFER
    problems: tuple[str, ...] = ()
    titles: Mapping[str, str] = field(default_factory=dict)
    """Title of every symptom, cause, test and repair, also of those that do not apply here."""

    def _repr_html_(self) -> str:
        """Return what a notebook shows: where it stands, the causes, the tests."""
        from asfound.quantities.display import chance
        from asfound.quantities.notebook import html_table, paragraphs

        causes = [(one.title, one.system, chance(one.p), chance(one.before)) for one in self.causes[:10]]
        return paragraphs(self.says, self.now_says, *self.urgent, self.before_all) + html_table(
            ("cause", "system", "belief", "before"), causes, title="Causes", total=len(self.causes)
        )

    @property
    def leader(self) -> CauseRow | None:
        """The most probable cause; None while nothing was told."""
        return self.causes[0] if self.causes and self.phase != "nothing_told" else None

    @property
    def runner_up(self) -> CauseRow | None:
        """The next one."""
        return self.causes[1] if len(self.causes) > 1 and self.phase != "nothing_told" else None

    @property
    def other(self) -> float:
        """Chance of something else, or more than one thing."""
        return next((one.p for one in self.causes if one.id == "other"), 0.0)

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Cautions before the first step of the plan."""
        return self.decision.first.cautions if self.decision else ()

    @property
    def steps_made(self) -> tuple[WitnessRow, ...]:
        """Tests and repairs that people told of, in order."""
        return tuple(one for one in self.witnesses if one.what != "symptom" and not one.code)

    def cause(self, name: str) -> CauseRow:
        """Return the row of a cause; KeyError where this engine has it not."""
        return {one.id: one for one in self.causes}[name]
