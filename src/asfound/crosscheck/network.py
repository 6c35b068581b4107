"""Networks of streams: balances of flows at nodes, and of what the flows carry."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from asfound.crosscheck.balances import Balances, linear_balances
from asfound.errors import InputError
from asfound.quantities.typing import Array

Nodes = Sequence[Sequence[int]]
"""For each node the numbers of its streams, from 1: positive where it flows in, negative where it leaves."""


def incidence(nodes: Nodes, streams: int | None = None) -> Array:
    """Return the incidence matrix, shape (nodes, streams): 1 in, -1 out.

    >>> incidence([[1, -2, -3]]).tolist()
    [[1.0, -1.0, -1.0]]
    """
    last = max(abs(one) for node in nodes for one in node)
    if any(one == 0 for node in nodes for one in node):
        raise InputError("nodes", "0", "is no stream", allowed="numbers from 1, negative where it leaves")
    a = np.zeros((len(nodes), max(last, streams or 0)))
    for row, node in enumerate(nodes):
        for one in node:
            a[row, abs(one) - 1] += np.sign(one)
    return a


def flow_network(nodes: Nodes, measured: Sequence[int] | None = None, streams: int | None = None) -> Balances:
    """Return the balances of flow at each node; streams are named ``stream_1`` ....

    Parameters
    ----------
    nodes : sequence of sequences of int
        Streams of each node.
    measured : sequence of int, optional
        Numbers of the streams that are measured; all when left out.
    streams : int, optional
        Number of streams, where some stand in no node.
    """
    a = incidence(nodes, streams)
    seen = list(range(1, a.shape[1] + 1)) if measured is None else list(measured)
    unseen = [one for one in range(1, a.shape[1] + 1) if one not in seen]
    columns = [one - 1 for one in [*seen, *unseen]]
    return linear_balances(
        a[:, columns],
        [f"stream_{one}" for one in seen],
        [f"stream_{one}" for one in unseen],
        names=[f"node_{at + 1}" for at in range(len(nodes))],
    )


def mixing_network(nodes: Nodes, components: Sequence[str], unmeasured_flows: Sequence[int] = ()) -> Balances:
    """Return the balances of each component at each node, flow times fraction, and each stream's sum of fractions.

    Readings are ``flow_1`` ... (but for the unmeasured), then ``fraction_1_CH4`` ... of stream after stream. The
    balance of the whole flow follows from these and is left out. Form of Crowe 1986, Rao and Narasimhan 1996.
    """
    a = incidence(nodes)
    streams, kinds = a.shape[1], len(components)
    flows = [f"flow_{one}" for one in range(1, streams + 1) if one not in unmeasured_flows]
    measured = [one - 1 for one in range(1, streams + 1) if one not in unmeasured_flows]
    hidden = [one - 1 for one in unmeasured_flows]

    def formula(x: Array, u: Array) -> Array:
        flow = np.empty((streams, *x.shape[1:]), dtype=np.result_type(x, u))
        flow[measured], flow[hidden] = x[: len(flows)], u
        fraction = x[len(flows) :].reshape(streams, kinds, *x.shape[1:])
        carried = flow[:, None] * fraction
        left = np.tensordot(a, carried, axes=1).reshape(len(nodes) * kinds, *x.shape[1:])
        return np.concatenate([left, fraction.sum(axis=1) - 1.0])

    return Balances(
        readings=(*flows, *(f"fraction_{s + 1}_{name}" for s in range(streams) for name in components)),
        unmeasured=tuple(f"flow_{one}" for one in unmeasured_flows),
        formula=formula,
        names=(
            *(f"node_{at + 1}_{name}" for at in range(len(nodes)) for name in components),
            *(f"sum_{s + 1}" for s in range(streams)),
        ),
    )
