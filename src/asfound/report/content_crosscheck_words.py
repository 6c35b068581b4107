"""The answer of a cross-check in words: who lies and why, what cannot be told, which measurement is worth most."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from asfound.crosscheck.looks import look_at
from asfound.crosscheck.silent import parts_said, tally
from asfound.crosscheck.told import explanation, suspect
from asfound.quantities.register import quantities
from asfound.report.wording import sentence

if TYPE_CHECKING:
    from asfound.crosscheck.outcome import Alternative, CrossCheck, Suspect
    from asfound.crosscheck.worth_of_visit import OneMore
    from asfound.report.wording import System

LEAST = 0.01
"""Below this probability an explanation is not listed. [1]"""
MOST = 6
LIKELY = 0.75
"""From this probability on the likeliest of several is named first. [1]"""
WANTED = {"brake_power": "engine power", "excess_air_ratio": "lambda"}
Kind = Literal["one", "several", "two", "unexplained", "nobody"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One way to explain it."""

    title: str
    says: str
    probability: float
    look: str
    mistake: str
    key: str
    """Of its reading on the visit; empty where it is none, or several."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a person should know first."""

    kind: Kind
    asks: str
    says: str
    """The answer, at full size."""
    because: tuple[str, ...]
    candidates: tuple[Candidate, ...]
    """Where it cannot be told apart: all that pass, the likeliest first."""
    runner_up: str
    look: str
    """What to look at first; empty where nothing is named."""
    in_one: str
    """The whole in one sentence, for a list."""


@dataclass(frozen=True, slots=True, kw_only=True)
class More:
    """One more measurement and what it would bring."""

    title: str
    act: str
    """What to do."""
    says: str
    """What it would bring."""
    step: str
    """Page on which it is taken; empty where none is known."""
    decides: bool
    """It would tell who lies; else it sharpens what is wanted."""
    gain: float
    """Of the probability, or the part of the doubt that goes. [1]"""


def listed(words: list[str]) -> str:
    """Return words as a list in a sentence.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1] if words else ""


def lower(title: str) -> str:
    """Return a title inside a sentence; what is written in capitals stays so.

    >>> lower("Fuel flow"), lower("CO at the analyser")
    ('fuel flow', 'CO at the analyser')
    """
    return title if title[:2].isupper() else title[:1].lower() + title[1:]


def answer_of(found: CrossCheck, system: System) -> Answer:
    """Return the answer."""
    if found.verdict == "nobody":
        return _nobody(found)
    candidates = _candidates(found, system)
    if found.verdict == "unexplained" or not found.explanations:
        return _unexplained(found, candidates)
    if not found.told_apart:
        return _several(found, candidates)
    return _named(found, system)


def _candidates(found: CrossCheck, system: System) -> tuple[Candidate, ...]:
    """Return each single suspect, and each pair, with its probability."""
    made: list[Candidate] = []
    for one in found.explanations:
        if len(one.groups) == 1:
            made += [_single(of, one, system) for of in one.groups[0] if of.possible]
        else:
            made.append(_pair(one, system))
    rows = [one for one in sorted(made, key=lambda of: -of.probability) if one.probability >= LEAST]
    return tuple(rows[:MOST] or made[:1])


def _single(one: Suspect, of: Alternative, system: System) -> Candidate:
    return Candidate(
        title=one.title, says=sentence(suspect(one, system)), probability=of.probability * one.probability,
        look=one.look, mistake=one.mistake, key=one.keys[0] if len(one.keys) == 1 else "",
    )  # fmt: skip


def _pair(one: Alternative, system: System) -> Candidate:
    first = [next((of for of in group if of.possible), group[0]) for group in one.groups]
    return Candidate(
        title=listed([of.title if at == 0 else lower(of.title) for at, of in enumerate(first)]),
        says=sentence(explanation(one, system)), probability=one.probability,
        look=" ".join(dict.fromkeys(of.look for of in first if of.look)),
        mistake="; ".join(of.mistake for of in first if of.mistake), key="",
    )  # fmt: skip


def _size(found: CrossCheck) -> str:
    return f"disagreement {_plain(found.chi_squared)}, usual below {_plain(found.usual_below)}"


def _plain(value: float) -> str:
    return f"{value:.1f}" if value < 10 else f"{value:,.0f}"


def _named(found: CrossCheck, system: System) -> Answer:
    """Return who lies, told apart from all others."""
    titles = [one.title for one in found.named]
    said = [sentence(suspect(one, system)) for one in found.named]
    because = [f"{one}." for one in said]
    best = found.explanations[0]
    with_ = "it" if len(titles) == 1 else "them"
    because.append(
        f"With {with_} left out the disagreement of {_plain(found.chi_squared)} falls to {_plain(best.chi_squared)}; "
        f"usual is below {_plain(found.usual_below)}."
    )
    looks = [one.look for one in found.named if one.look]
    plain = all(one.kind == "reading" for one in found.named)
    says = f"{listed([titles[0], *(lower(one) for one in titles[1:])])}." if plain else f"{'; '.join(said)}."
    return Answer(
        kind="one" if len(titles) == 1 else "two",
        asks="Which one lies?" if plain else "What is wrong with the readings?",
        says=says,
        because=tuple(because if plain else because[len(said) :]),
        candidates=(),
        runner_up=_runner_up(found, {one.name for one in found.named}),
        look=" ".join(dict.fromkeys(looks)),
        in_one=f"{'; '.join(said)}.",
    )


def _runner_up(found: CrossCheck, named: set[str]) -> str:
    """Say what the next best single error would leave."""
    rivals = [one for one in found.explanations[1:] if one.groups]
    if rivals:
        title = listed([lower(group[0].title) for group in rivals[0].groups])
        return f"Runner-up: {title}, {100 * rivals[0].probability:.0f} in 100."
    other = next((one for one in found.left_out if one.name not in named), None)
    if other is None:
        return ""
    return (
        f"Runner-up: {lower(other.title)}. Without it {_plain(other.chi_squared)} would remain, more than the "
        "readings' doubts allow."
        if other.chi_squared > found.explanations[0].chi_squared + 1.0
        else f"{other.title} leaves nearly the same mark, but its error would be one that cannot be."
    )


def _several(found: CrossCheck, candidates: tuple[Candidate, ...]) -> Answer:
    """Return that it cannot be told apart, as an answer of full size."""
    says = _one_of(candidates, pairs=any(len(one.groups) > 1 for one in found.explanations))
    because = [
        f"The readings contradict each other ({_size(found)}). "
        "Each of these explains it; whichever it is, the same balances fail to close."
    ]
    return Answer(
        kind="several", asks="Which one lies?", says=says, because=tuple(because), candidates=candidates, runner_up="",
        look="",
        in_one="Cannot be told apart: " + "; or ".join(lower(one.says) for one in candidates[:3]) + ".",
    )  # fmt: skip


def _one_of(candidates: tuple[Candidate, ...], *, pairs: bool) -> str:
    """Return that several explain it; where one is likely it is named as that, and no further."""
    first, others = candidates[0], len(candidates) - 1
    if others and first.probability >= LIKELY:
        rest = "One other" if others == 1 else f"{_count(others)} others".capitalize()
        return f"Probably {lower(first.title)}. {rest} cannot be ruled out."
    if pairs:
        return "Two errors at once. Which, the readings cannot tell."
    if others:
        return f"One of these {_count(len(candidates))}. Which, the readings cannot tell."
    return f"Probably {lower(first.title)}, but it is not proved."


def in_100(probability: float) -> str:
    """Return a probability as a count in a hundred, never rounded to all or nothing.

    >>> in_100(0.786), in_100(0.9999)
    ('79', 'more than 99')
    """
    if probability > 0.995:
        return "more than 99"
    return "fewer than 1" if probability < 0.005 else f"{100 * probability:.0f}"


def _count(number: int) -> str:
    return ("two", "three", "four", "five", "six")[number - 2] if 2 <= number <= 6 else str(number)


def _unexplained(found: CrossCheck, candidates: tuple[Candidate, ...]) -> Answer:
    near = f" Nearest: {lower(candidates[0].says)}." if candidates else ""
    return Answer(
        kind="unexplained",
        asks="Which one lies?",
        says="More than two, or something else. It cannot be told.",
        because=(
            f"The readings contradict each other ({_size(found)}), and no one or two errors explain it.{near}",
            "Look for a wrong unit, a wrong place, an engine that was not steady, or an engine that is not the one "
            "assumed.",
        ),
        candidates=(),
        runner_up="",
        look="",
        in_one=f"The readings contradict each other ({_size(found)}), and no one or two errors explain it.",
    )


def _nobody(found: CrossCheck) -> Answer:
    """Return that nothing contradicts, and how little that may say."""
    count = tally(found)
    parts = parts_said(count)
    says = "Nothing contradicts." if count.well else "Nothing contradicts, but little could be checked."
    return Answer(
        kind="nobody",
        asks="Do the readings agree?",
        says=says,
        because=(
            f"{sentence(_size(found))}. Of {count.read} readings {listed(parts)}.",
            "It is no proof: an error smaller than that named beside each reading passes, and so do two that cancel.",
        ),
        candidates=(),
        runner_up="",
        look="",
        in_one=f"{says} {sentence(_size(found))}; of {count.read} readings {listed(parts)}.",
    )


def more_of(found: CrossCheck) -> tuple[More, ...]:
    """Return the measurements worth most, the best first; two ways to one value count once."""
    rows: dict[str, More] = {}
    for one in found.one_more:
        rows.setdefault(one.title, _more(one, one.name in found.assembled.assumed))
    return tuple(rows.values())


def _more(one: OneMore, assumed: bool) -> More:
    known = quantities()
    look = look_at(one.name)
    act = look.rstrip(".") if assumed and look else f"Measure {lower(one.title)} with another instrument"
    if one.wanted:
        wanted = WANTED.get(one.wanted, one.wanted.replace("_", " "))
        says = f"The doubt of {wanted} would shrink by {100 * (1 - one.after / one.before):.0f} %."
    else:
        before, after = in_100(one.before), in_100(one.after)
        says = f"The chance of naming the right one would rise from {before} to {after} in 100."
    return More(
        title=one.title,
        act=act,
        says=says,
        step=known[one.quantity].step if one.quantity in known else "",
        decides=not one.wanted,
        gain=1 - one.after / one.before if one.wanted else one.after - one.before,
    )
