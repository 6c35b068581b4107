"""What "C6+" stands for: heavier components that were analysed as one sum, shared out as somebody has stated."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from asfound.errors import InputError, UnknownNameError
from asfound.fuel.names import GROUPS, component_named, title
from asfound.sources.tables import load_csv

Split = Mapping[str, float]
"""Mole shares by component; they add up to 1."""


@cache
def stated_splits() -> Mapping[tuple[str, str], Split]:
    """Return the splits in common use, by group and name (``hexanes_plus``, ``60/30/10``)."""
    found = {}
    for row in load_csv("asfound.fuel", "data/heavier_splits.csv"):
        shares = [float(share) for share in row["shares"].split("|")]
        found[row["group"], row["split"]] = dict(zip(row["components"].split("|"), shares, strict=True))
    return found


def split_of(group: str, stated: str | Split | None) -> Split:
    """Return the mole shares for a group of heavier components.

    Parameters
    ----------
    group : str
        ``hexanes_plus`` and its like.
    stated : str, mapping or None
        Name of a split in common use, or mole shares (or per cent) by component.

    Raises
    ------
    InputError
        Nothing is stated, or the shares do not add up.
    UnknownNameError
        No split, or component, is called so.

    Examples
    --------
    >>> split_of("hexanes_plus", "60/30/10")["n-heptane"]
    0.3
    """
    offered = [name for of, name in stated_splits() if of == group]
    if stated is None:
        raise InputError(
            "heavier", title(group), "is a sum of several components and its split is not stated",
            allowed=", ".join(offered),
            try_next="Ask the laboratory how it counts them; 'counted as hexane' is common. Say which was taken.",
        )  # fmt: skip
    if isinstance(stated, str):
        if (group, stated) not in stated_splits():
            raise UnknownNameError(f"split of {title(group)}", stated, offered)
        return stated_splits()[group, stated]
    shares = {component_named(name, field="heavier"): float(share) for name, share in stated.items()}
    for name, share in shares.items():
        if name in GROUPS or not share >= 0:
            raise InputError("heavier", f"{name} {share:g}", "cannot be a share of a split",
                             allowed="single components with shares of 0 or more")  # fmt: skip
    total = sum(shares.values())
    whole = 100.0 if total > 50 else 1.0
    if abs(total / whole - 1) > 1e-3:
        raise InputError("heavier", f"{total:g}", "is what the shares of the split add up to",
                         allowed="1, or 100 in per cent")  # fmt: skip
    return {name: share / total for name, share in shares.items()}
