"""How well a look would tell two lineages apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asfound.evidence.information import LN2, x_log_x
from asfound.evidence.outcomes import Sight
from asfound.evidence.weigh import weigh

if TYPE_CHECKING:
    from asfound.evidence.compiled import Floats
    from asfound.evidence.plan import Plan
    from asfound.evidence.weigh import Weighed


def apart_before(plan: Plan) -> Floats:
    """Return what each look tells on an even choice between each two lineages, before anything was observed.

    Shape [looks, G, G], in bits, the chance of 'could not tell' taken off; worked out once for a plan.
    """
    if plan.before is None:
        everything = list(range(len(plan.looks)))
        plan.before = telling_apart(plan, weigh(plan.c, ()), everything, list(range(plan.c.G)), set())
    return plan.before


def telling_apart(plan: Plan, weighed: Weighed, looks: list[int], lineages: list[int], general: set[int]) -> Floats:
    """Return what each look would tell on an even choice between each two lineages [looks, lineages, lineages]. [bit]

    ``general``: looks at what was stated before, which need the exact way of ``outcomes``; so do looks that are not
    plain.
    """
    m = len(lineages)
    out = np.zeros((len(looks), m, m))
    quick = [n for n, i in enumerate(looks) if i in plan.place and i not in general]
    if quick:
        rows = [plan.place[looks[n]] for n in quick]
        out[quick] = pairs_apart(plan.shown_by_lineage(weighed)[rows][:, :, lineages])
    special = set(range(len(looks))) - set(quick)
    for n in special:
        shown = Sight(weighed, plan.asks[looks[n]]).with_lineage()[:, lineages] / weighed.p[lineages]
        out[n] = pairs_apart(shown[None])[0]
    decided = np.array([plan.decided[i] for i in looks])
    return np.asarray(out * decided[:, None, None])


def pairs_apart(shown: Floats) -> Floats:
    """Return the information on an even choice between each two columns of P(outcome | lineage) [n, O, m]: [n, m, m].

    ``information`` of each pair, with the logarithms of each column taken once. [bit]
    """
    each, total = x_log_x(shown).sum(axis=1), shown.sum(axis=1)  # [n, m]
    both = x_log_x(shown[:, :, :, None] + shown[:, :, None, :]).sum(axis=1)  # [n, m, m]
    single = each - x_log_x(total)
    whole = total[:, :, None] + total[:, None, :]
    nats = single[:, :, None] + single[:, None, :] - both
    return np.asarray(np.maximum((nats / whole + np.log(whole)) / LN2, 0.0))
