"""Worth of every open look by one criterion: bits about the target, loss saved, or edges cut."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from asfound.errors import InputError, UnknownNameError
from asfound.evidence.gather import stated_before
from asfound.evidence.information import edges_cut, entropy, information, loss_saved
from asfound.evidence.outcomes import Outcome, Sight, doubt, outcomes_of, states_of

if TYPE_CHECKING:
    from asfound.evidence.compiled import Compiled, Floats
    from asfound.evidence.outcomes import Ask
    from asfound.evidence.plan import Plan
    from asfound.evidence.weigh import Weighed

Criterion = Literal["bits", "loss", "ec2"]


class Worth:
    """Bits and worth of every look of a plan (list over all looks; those not open are not to be used)."""

    def __init__(
        self,
        plan: Plan,
        weighed: Weighed,
        target: str,
        criterion: Criterion,
        left: Sequence[int],
        general: Sequence[int],
        *,
        loss: Mapping[str, Mapping[str, float]] | None = None,
        decisions: Mapping[str, str] | None = None,
        after: Worth | None = None,
    ) -> None:
        self.plan, self.weighed, self.target, self.criterion = plan, weighed, target, criterion
        c = plan.c
        self.decisions = decisions
        self.onto: Floats | None = None
        self.loss: Floats | None = None
        if target == "decision":
            if decisions is None:
                raise InputError(
                    "decisions",
                    "",
                    "are missing for the target 'decision'",
                    try_next="Say which lineage leads to which.",
                )
            self.onto = np.eye(int(self.decision.max()) + 1)[self.decision]
        self.slot = None if target in ("lineage", "all", "decision") else c.model.slot_index(target)
        if criterion == "loss":
            self.loss = (
                after.loss if after is not None else loss_table(hypotheses(c, target, self.slot, decisions), loss)
            )
        if criterion == "ec2" and target != "lineage":
            raise InputError("criterion", "ec2", f"does not go with the target '{target}'", allowed="target 'lineage'")
        if criterion not in ("bits", "loss", "ec2"):
            raise InputError("criterion", criterion, "is not known", allowed="bits, loss, ec2")
        self.special = special = set(general)
        """Looks of the plan for which the quick way does not hold."""
        if self.slot is not None and self.slot in weighed.tie_of:  # the sources tie the look's slot to the target's
            tied = weighed.tie_of[self.slot].slots
            special.update(i for i in left if i in plan.place and int(plan.plain_slot[plan.place[i]]) in tied)
        self.bits = [0.0] * len(plan.looks)
        self.worth = self.bits if criterion == "bits" else [0.0] * len(plan.looks)
        if plan.plain and len(special) < len(left):
            self.value_plain()
        valued = self.value_again(special) if target == "lineage" and criterion == "bits" else {}
        for i, bits in valued.items():
            self.bits[i] = plan.decided[i] * bits
        for i in special.difference(valued):
            bits, worth = self.single(plan.asks[i])
            self.worth[i] = plan.decided[i] * worth
            self.bits[i] = plan.decided[i] * bits

    def value_plain(self) -> None:
        """Value all plain looks in one go; what could not be told gains nothing."""
        plan, worth = self.plan, None
        if self.target == "all":
            bits = plan.bits_of_all(self.weighed)
        else:
            joint = plan.joint(self.weighed, self.target, self.onto)
            bits = information(joint)
            if self.criterion != "bits":
                worth = self.judged(joint)
        for i, value in zip(plan.plain, bits.tolist(), strict=True):
            self.bits[i] = plan.decided[i] * value
        if worth is not None:
            for i, value in zip(plan.plain, worth.tolist(), strict=True):
                self.worth[i] = plan.decided[i] * value

    def table_of(self, i: int) -> tuple[int, Floats] | None:
        """Return the slot of a look and P(outcome | variant, what was stated before) [O, V]; None where sources matter.

        For looks that reveal one character, speak for no source, and look at a slot that no source ties.
        """
        plan, c = self.plan, self.plan.c
        if i not in plan.place:
            return None
        k = plan.single_character[i]
        s = c.slot_list[k]
        if s in self.weighed.tie_of:
            return None
        error = c.model.kinds[plan.looks[i].kind].error
        before = [said for said, _ in stated_before(c, self.weighed.gathered, k)] if i in self.special else []
        return s, c.again(k, error, before) if before else c.table(k, error)

    def value_again(self, special: set[int]) -> dict[int, float]:
        """Return the bits of looks at what was stated before in another way, where no sources matter."""
        tables = {i: found for i in special if (found := self.table_of(i)) is not None}
        if not tables:
            return {}
        joint = np.zeros((len(tables), self.plan.tables.shape[1], self.plan.c.G))
        for n, (s, table) in enumerate(tables.values()):
            joint[n, : len(table)] = table @ self.weighed.variant_given(s).T
        return dict(zip(tables, information(joint * self.weighed.p).tolist(), strict=True))

    @cached_property
    def decision(self) -> NDArray[np.intp]:
        """Number of the decision of each lineage [G]."""
        return numbered_decisions(self.plan.c, self.decisions)

    def judged(self, joint: Floats) -> Floats:
        """Return the worth of joint tables by a criterion other than bits."""
        if self.criterion == "ec2":
            return edges_cut(joint, self.decision)
        assert self.loss is not None
        return loss_saved(joint, self.loss)

    def single(self, one: Ask) -> tuple[float, float]:
        """Return bits and worth of one look, or of several joined, the general way; everything could be told."""
        sight = Sight(self.weighed, one, self.slot)
        if self.target == "all":
            return sight.with_all(), 0.0
        joint = self.table(sight)
        return float(information(joint)), float(self.judged(joint)) if self.criterion != "bits" else 0.0

    def table(self, sight: Sight) -> Floats:
        """Return the joint table of outcome and hypothesis of the target."""
        if self.slot is not None:
            return sight.with_slot()
        joint = sight.with_lineage()
        return joint if self.onto is None else joint @ self.onto

    @cached_property
    def doubt(self) -> float:
        """Entropy of the target now. [bit]"""
        if self.onto is not None:
            return entropy(self.weighed.p @ self.onto)
        return doubt(self.weighed, self.target)

    def outcomes(self, i: int) -> tuple[Outcome, ...]:
        """Return what look i may show, most probable first; ties in the order of the states."""
        plan, weighed = self.plan, self.weighed
        states = states_of(plan.c, plan.asks[i], plan.looks[i].reveals)
        if i in plan.place and i not in self.special:
            joint = plan.shown_by_lineage(weighed)[plan.place[i], : len(states)] * weighed.p
        else:
            joint = Sight(weighed, plan.asks[i]).with_lineage()
        return outcomes_of(plan.c.lineages, states, joint)


def numbered_decisions(c: Compiled, decisions: Mapping[str, str] | None) -> NDArray[np.intp]:
    """Return the number of the decision of each lineage [G]; a lineage left out is a decision of its own."""
    if decisions is None:
        return np.arange(c.G)
    for name in decisions:
        if name not in c.lineages:
            raise UnknownNameError("lineage", name, c.lineages)
    named = [("decision", decisions[name]) if name in decisions else ("lineage", name) for name in c.lineages]
    kinds = list(dict.fromkeys(named))
    return np.array([kinds.index(one) for one in named])


def hypotheses(c: Compiled, target: str, slot: int | None, decisions: Mapping[str, str] | None) -> list[str]:
    """Return the hypotheses of the target, padding included, in the order of its axis."""
    if target == "lineage":
        return list(c.lineages)
    if target == "decision" and decisions is not None:
        return list(dict.fromkeys(decisions.get(name, name) for name in c.lineages))
    if slot is None:
        raise InputError("target", target, "cannot carry a loss table", allowed="lineage, decision, or a slot")
    names = list(c.model.variant_names(target))
    return names + [""] * (c.V - len(names))


def loss_table(names: list[str], loss: Mapping[str, Mapping[str, float]] | None) -> Floats:
    """Return the loss of each action under each hypothesis [actions, H]."""
    if not loss:
        raise InputError(
            "loss",
            "",
            "is missing for the criterion 'loss'",
            try_next="Give the loss of each action under each hypothesis.",
        )
    place = {name: i for i, name in enumerate(names) if name}
    out = np.zeros((len(loss), len(names)))
    for a, row in enumerate(loss.values()):
        for name, value in row.items():
            if name not in place:
                raise UnknownNameError("hypothesis", name, place)
            out[a, place[name]] = value
    return out
