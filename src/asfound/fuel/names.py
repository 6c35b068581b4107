"""What a laboratory calls a component: names and formulas in several languages, as they stand on reports.

Compared without case, accents, spaces and punctuation. A name that can mean two things is asked about, never guessed.
"""

from __future__ import annotations

import unicodedata
from difflib import get_close_matches
from functools import cache

from asfound.errors import AmbiguousError, UnknownNameError
from asfound.fuel.components import table
from asfound.sources.tables import load_csv

GROUPS = ("pentanes_plus", "hexanes_plus", "heptanes_plus", "octanes_plus", "nonanes_plus", "decanes_plus")
"""Several heavier components counted as one: they need a split before anything is computed."""


def component_named(text: str, *, field: str = "component") -> str:
    """Return the component, or the group of heavier ones, that a laboratory's name or formula means.

    Parameters
    ----------
    text : str
        ``n-Butane``, ``nC4``, ``CO₂``, ``Stickstoff``, ``C6+``.
    field : str
        Name of the field, for a complaint.

    Raises
    ------
    AmbiguousError
        It can mean several (``C4H10``); its choices are plain names.
    UnknownNameError
        No component is called so; the error has the nearest.

    Examples
    --------
    >>> component_named("i-C4"), component_named("Kohlenstoffdioxid"), component_named("Hexanes +")
    ('isobutane', 'carbon dioxide', 'hexanes_plus')
    """
    meant = _meanings().get(key(text))
    if meant is None:
        raise UnknownComponentError(text)
    if len(meant) > 1:
        raise AmbiguousError(
            field, text, "can mean more than one component", choices={one: title(one) for one in meant},
            try_next="Look into the report which it is, and write that name.",
        )  # fmt: skip
    return meant[0]


def is_known(text: str) -> bool:
    """Return whether a text is a name of a component or group, or of several that would have to be asked about."""
    return key(text) in _meanings()


def title(name: str) -> str:
    """Return a component or group as people write it.

    >>> title("hexanes_plus"), title("n-butane")
    ('hexanes and heavier (C6+)', 'n-butane (C4H10)')
    """
    if name in GROUPS:
        return f"{name.removesuffix('_plus')} and heavier (C{GROUPS.index(name) + 5}+)"
    data = table()
    return f"{name} ({data.components[data.place[name]].formula})"


class UnknownComponentError(UnknownNameError):
    """No component is called so; ``near`` has the nearest names as laboratories write them."""

    def __init__(self, text: str) -> None:
        super().__init__("gas component", text, ())
        written = _written()
        near = get_close_matches(key(text), list(written), n=8, cutoff=0.6)
        self.near = tuple(dict.fromkeys(written[one] for one in near))[:3]
        if self.near:
            self.args = (f"{self.args[0]} Nearest: {', '.join(self.near)}.",)


def key(text: str) -> str:
    """Return a name without case, accents, spaces and punctuation; a plus sign stays.

    >>> key("2,2-Di­methyl butane"), key("CO₂"), key("Hexanes +")
    ('22dimethylbutane', 'co2', 'hexanes+')
    """
    flat = unicodedata.normalize("NFKD", text).casefold()
    return "".join(sign for sign in flat if (sign.isalnum() and not unicodedata.combining(sign)) or sign == "+")


@cache
def _meanings() -> dict[str, tuple[str, ...]]:
    """Return what each key means; a name of two components is in no table."""
    found: dict[str, tuple[str, ...]] = {key(name): (name,) for name in (*table().names, *GROUPS)}
    for row in load_csv("asfound.fuel", "data/component_names.csv"):
        meant = tuple(row["means"].split("|"))
        for name in row["names"].split("|"):
            if found.setdefault(key(name), meant) != meant:
                raise ValueError(f"'{name}' means {found[key(name)]} and {meant} in component_names.csv")
    return found


@cache
def _written() -> dict[str, str]:
    """Return what to offer for each key: the plain name where it has one meaning, else as it is written."""
    written = {known: means[0] for known, means in _meanings().items() if len(means) == 1}
    for row in load_csv("asfound.fuel", "data/component_names.csv"):
        written |= {key(name): name for name in row["names"].split("|") if key(name) not in written}
    return written
