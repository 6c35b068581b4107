"""What may stand at a place of a message: a number before a counted noun, a tag behind `cylinder`, a code as it is."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.language.patterns import Pattern

SWALLOWS_ALL = frozenset({
    "{0} oxygen", "{0}engine {1}", "{0}tag {1}", "{0} as {1}", "{0} not agree", "{0} not agree.", "{0}s of {1}",
    "{0} more {1}", "gas {0} {1}",
})  # fmt: skip
"""Messages that would be found in any phrase with their word, and put its words in the English order."""
_COUNTED_WITHOUT_SINGULAR = frozenset({
    "codes", "columns", "due", "gaps", "members", "more", "overdue", "points", "rows", "seen", "soon", "taken", "teeth",
})  # fmt: skip
_VERBS = frozenset({"allow", "allows", "read", "reads", "run", "runs", "wait", "waits"})
_BEGINS = re.compile(r"\{0\} ([a-z]+)\b(?! than)")
_NUMBER = r"(?:[<>≥≤~±+−-]?\d[\d.,]*|an?|no|one|two|three|four|five|six|seven|eight|nine|ten)"
_COUNT = re.compile(
    rf"(?:(?:more|fewer|less) than |at (?:least|most) |about |only |all )?{_NUMBER}(?: (?:to|of|or) {_NUMBER})?"
    r"|some|several|few|many|all|both",
    re.IGNORECASE,
)
_NUMBERED_NOUN = re.compile(r"(?:^|[ (])(?:[Cc]ylinders?|[Bb]earings?|[Ss]tage|[Pp]ort|Engine) $")
_MORE = re.compile(r" more\b(?! than)")
_TAG = re.compile(r"\d|[A-Z]{1,3}-?\d|[RL]\b|\?|'")
_OF_THE_ENGINE = re.compile(r"(?:speed|power|hours?|load|oil|exhaust|torque|builder)\b")
CITED = re.compile(
    r"\b(?:CFR|ISO|IEC|DIN|EN|NFPA|API|VDI|SAE|ASME|Part|[Tt]able|[Cc]lause|[Ss]ection|[Mm]echanism|[Cc]ause|[Mm]ode)$"
)
"""Behind these stands the number of a paper or a code, not an amount: 29 CFR 1910.147 keeps its point."""


def counted_nouns(messages: Iterable[str]) -> frozenset[str]:
    """Return the nouns that stand behind a count: those that begin a message both for one and for several.

    >>> sorted(counted_nouns(["{0} day left", "{0} days left", "{0} bar absolute", "{0} entry", "{0} entries"]))[:4]
    ['codes', 'columns', 'day', 'days']
    """
    words = {found[1] for one in messages if (found := _BEGINS.match(one))}
    both = set(_COUNTED_WITHOUT_SINGULAR)
    for word in words:
        for many in (f"{word}s", f"{word}es", f"{word[:-1]}ies"):
            if many in words:
                both |= {word, many}
    return frozenset(both - _VERBS)


def may_stand(pattern: Pattern, found: dict[int, str], counted: frozenset[str]) -> bool:
    """Return whether what was found at the places of a message can stand there.

    Parameters
    ----------
    found : dict
        What stands at each place.
    counted : frozenset
        See `counted_nouns`.
    """
    begins = _BEGINS.match(pattern.message)
    if begins and begins[1] in counted and not _COUNT.fullmatch(found[0]):
        return False
    for place, before, behind in zip(pattern.places, pattern.fixed[:-1], pattern.fixed[1:], strict=True):
        if _MORE.match(behind) and not _COUNT.fullmatch(found[place]):
            return False
        if _NUMBERED_NOUN.search(before) and not _TAG.match(found[place]):
            return False
        if before.endswith("engine ") and _OF_THE_ENGINE.match(found[place]):
            return False
    return True
