"""What the page and the sheets say of trouble: what a step costs, what it tells apart, which words stand on answers."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from asfound.report.content_crosscheck_words import listed, lower

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asfound.troubleshoot.knowledge import Test

STATES: dict[str, str] = {
    "any": "at any time",
    "running": "on the running engine",
    "stopped": "engine stopped",
    "isolated": "isolated and locked",
}
SIGNS = {"any": "clock", "running": "running", "stopped": "stopped", "isolated": "isolated"}
"""Picture that stands for what a step asks of the engine."""
SYMPTOM_SAYS = {"present": "Seen", "absent": "Looked, not there", "not_judged": "Could not judge"}
SYMPTOM_LOOKS = {"present": "seen", "absent": "not_there", "not_judged": "not_judged"}
TEST_SAYS = {"positive": "", "negative": "not so", "not_judged": "could not judge", "not_done": "left out"}
REPAIR_SAYS = {"cured": "cured", "fails": "still there", "not_judged": "could not judge", "not_done": "left out"}
NOT_ALLOWED = "not allowed now: "
LABELS = {
    "absent": "not there: ",
    "not_judged": "could not judge: ",
    "not_done": "left out: ",
    "fails": "still there after: ",
    "cured": "gone after: ",
}
"""What goes before the title of a thing in the label of a step."""
APART = 0.2
"""Chances of a positive answer that lie nearer together than this tell nothing apart."""
_ASIDE = re.compile(r"\s*\([^)]*\)")
SHORTEST = 12


def short(title: str) -> str:
    """Return a title without what stands in brackets.

    >>> short("Fuel gas became heavier (lower methane number, higher Wobbe)")
    'Fuel gas became heavier'
    """
    bare = _ASIDE.sub("", title).strip()
    return bare if len(bare) >= SHORTEST else title


def first_up(text: str) -> str:
    """Return a text with a capital at its head."""
    return text[:1].upper() + text[1:]


def minutes(value: float) -> str:
    """Return a time in minutes, hours or days, as one says it.

    >>> minutes(10), minutes(90), minutes(240), minutes(2880)
    ('10 min', '90 min', '4 h', '2 days')
    """
    if value < 120:
        return f"{value:.0f} min"
    if value < 48 * 60:
        hours = value / 60
        return f"{hours:.0f} h" if abs(hours - round(hours)) < 0.05 or hours >= 10 else f"{hours:.1f} h"
    return f"{value / 1440:.0f} days"


def costs(hands: float, waiting: float, state: str, now: str) -> tuple[str, ...]:
    """Return what a step costs in words: minutes by hand, waiting, and the stop or isolation that is not there yet."""
    said = [minutes(hands)]
    if waiting > 0:
        said.append(f"then {minutes(waiting)} of waiting")
    if state == "isolated" and now != "isolated":
        said.append("a stop and an isolation")
    elif state == "stopped" and now == "running":
        said.append("a stop")
    elif state in ("any", now) or (state == "stopped" and now == "isolated"):
        said.append("no stop")
    else:
        said.append("the engine runs for it")
    return tuple(said)


def answer(test: Test, says: str) -> str:
    """Return the words of an answer to a test."""
    return first_up(test.positive) if says == "positive" else first_up(TEST_SAYS[says])


def tells_apart(test: Test, leading: Sequence[tuple[str, str]]) -> str:
    """Say which of the leading causes a test tells from which; ``leading`` holds id and title, at most four are named.

    A test that is as likely positive under each of them speaks for all of them together, or for none.
    """
    chances = {cause: test.given.get(cause, test.otherwise) for cause, _ in leading[:4]}
    titles = {cause: lower(short(title)) for cause, title in leading}
    if not chances:
        return ""
    low, high = min(chances.values()), max(chances.values())
    if high - low < APART:
        return "the first causes from all others" if low - test.otherwise >= APART else "others from the first causes"
    middle = (low + high) / 2
    for_it = [titles[one] for one, p in chances.items() if p >= middle]
    against = [titles[one] for one, p in chances.items() if p < middle]
    return f"{listed(for_it)} from {listed(against)}"


def of_doubt(bits: float, doubt: float) -> str:
    """Return which part of the doubt a test takes away on average: '24 % of the doubt'."""
    share = 100 * bits / doubt if doubt > 0 else 0.0
    return f"{share:.0f} %" if share >= 1 else "below 1 %"


def chance(probability: float) -> str:
    """Return a chance in words of a hundred."""
    if probability < 0.005:
        return "fewer than 1 in 100"
    return "more than 99 in 100" if probability >= 0.995 else f"{100 * probability:.0f} in 100"


def outcome(test: Test, says: str) -> str:
    """Return what came of a test as a list says it: a question's *no* may mean either, so what was not so is named."""
    return first_up(negation(test)) if says == "negative" else answer(test, says)


def negation(test: Test) -> str:
    """Return what a test that is not positive says."""
    return test.negative or f"not: {test.positive}"


def step_label(title: str, says: str, test: Test | None = None) -> str:
    """Return the label of a step of belief: what was told and, where it is not plain, how.

    ``test``: whose answer it is.

    >>> step_label("Random misfire over many cylinders", "absent"), step_label("High vibration (any)", "present")
    ('not there: random misfire over many cylinders', 'High vibration')
    """
    if test is not None and says in ("positive", "negative"):
        return f"{short(title).rstrip('?')}: {negation(test) if says == 'negative' else test.positive}"
    word = LABELS.get(says, "")
    return f"{word}{lower(short(title))}" if word else short(title)


WEIGHS = {
    "yes": "counts",
    "undecided": "weighs nothing",
    "already told": "told already; it counts once",
    "contradicted": "a person says the contrary; it weighs nothing",
    "does not apply": "does not apply to this engine",
    "before a change": "from before a repair; it weighs nothing",
}
CONFIRMED = {
    "cured": "The repair cured it",
    "seen": "The fault itself was seen",
    "believed": "Believed, not proved",
}
PROTECTION_SAYS = {
    "in_force": "In force",
    "off": "Off",
    "bypassed": "Bypassed",
    "setting_moved": "Setting moved",
    "not_judged": "Could not judge",
}
HAZARDS = {
    "loto": "isolation and locking",
    "noise": "noise",
    "hot": "hot surfaces",
    "hv": "ignition voltage",
    "rotating": "rotating parts",
    "gas": "fuel gas",
    "area": "ignition source in a classified area",
    "h2s": "hydrogen sulphide",
    "co": "carbon monoxide",
    "pressure": "stored pressure",
    "protect": "work at a protection",
    "catheat": "catalyst heat",
    "confined": "confined space",
    "elec": "live panels",
    "crankcase": "crankcase",
    "coolant": "hot coolant",
    "barring": "barring",
    "unburnt": "unburnt fuel in the exhaust",
    "config": "software and settings",
    "chemical": "chemicals",
    "calgas": "calibration gas",
    "battery": "batteries",
    "height": "work at height",
    "lone": "work alone",
    "fire": "fire",
    "local": "work for licensed people",
}
"""Short words for the hazards of the register of cautions, by tag."""
EVERYWHERE = ("local",)
"""Said once on each page: it belongs to every step."""


def why_not(why: str) -> str:
    """Return why a step cannot be made now, with words for the hazards that are not allowed.

    >>> why_not("not allowed now: loto, hot"), why_not("the engine does not run")
    ('not allowed now: isolation and locking, hot surfaces', 'the engine does not run')
    """
    if not why.startswith(NOT_ALLOWED):
        return why
    named = why.removeprefix(NOT_ALLOWED).split(", ")
    return NOT_ALLOWED + ", ".join(HAZARDS.get(one, one) for one in named)
