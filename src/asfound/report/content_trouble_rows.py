"""The lists of what is wrong: what was told and by whom, steps made, findings heard, what to tell whoever is called."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from asfound.report.content_crosscheck_words import listed, lower
from asfound.report.content_trouble import OTHER_TITLE, hazards, label_of, said_of_step, steps_told, title_of
from asfound.report.content_trouble_words import (
    SIGNS,
    SYMPTOM_SAYS,
    WEIGHS,
    chance,
    costs,
    first_up,
    short,
    why_not,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from asfound.troubleshoot.shown import RepairRow, SymptomRow, Trouble, WitnessRow

TELLING = 0.1
"""Weights below it are not drawn. [dB]"""
MOVED_LEAST = 0.005
NAMED = 2
"""Causes that a repair names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidShown:
    """Something that was said of a symptom, a test or a repair."""

    id: str
    title: str
    what: str
    word: str
    code: str
    weighs: str
    weighs_word: str
    says: str
    """Why it weighs so, or what the finding says."""
    time: str
    place: str
    by: str
    note: str
    entry: str
    decibans: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StepShown:
    """One step of belief."""

    label: str
    code: str
    time: str
    entry: str
    moved: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairShown:
    """A repair with what it costs."""

    row: RepairRow
    costs: tuple[str, ...]
    sign: str
    hazards: tuple[str, ...]
    why_not: str
    """Why it cannot be made now."""
    ends: str
    """Which of the probable causes it ends."""


def told_symptoms(trouble: Trouble) -> list[SymptomRow]:
    """Return the symptoms that were told by a person or by a finding, seen ones first."""
    order = {"present": 0, "": 1, "absent": 2, "not_judged": 3}
    told = [one for one in trouble.symptoms if one.says or one.codes]
    return sorted(told, key=lambda one: order.get(one.says, 9))


def grouped(trouble: Trouble, *, find: str = "") -> list[tuple[str, list[SymptomRow]]]:
    """Return the symptoms that nobody told, by group; with ``find`` only those that hold these words."""
    words = find.casefold().split()
    groups: dict[str, list[SymptomRow]] = {}
    for one in trouble.symptoms:
        text = " ".join((one.title, one.group, *one.seen_in)).casefold()
        if (one.says or one.codes) and not find:
            continue
        if all(word in text for word in words):
            groups.setdefault(one.group, []).append(one)
    return list(groups.items())


def said(trouble: Trouble, one: WitnessRow, findings: Mapping[str, str]) -> SaidShown:
    """Return a witness in words."""
    symptom = one.what == "symptom"
    word = SYMPTOM_SAYS.get(one.says, one.says) if symptom else said_of_step(trouble, one.about, one.says)
    return SaidShown(
        id=one.about,
        title=one.title,
        what=one.what,
        word=word,
        code=one.code,
        weighs=one.weighs,
        weighs_word=WEIGHS.get(one.weighs, one.weighs),
        says=findings.get(one.code, "") or one.why,
        time=one.time,
        place=one.place,
        by=one.by,
        note=one.note,
        entry=one.entry,
        decibans=one.decibans if one.decibans == one.decibans else 0.0,
    )


def all_said(trouble: Trouble, findings: Mapping[str, str]) -> list[SaidShown]:
    """Return everything that was said, in order of time."""
    return [said(trouble, one, findings) for one in trouble.witnesses]


def steps_of(trouble: Trouble) -> list[StepShown]:
    """Return the steps of belief after the start, each with what it moved most."""
    titles = {one.id: first_up(one.title) for one in trouble.causes}
    found = []
    for before, after in pairwise(steps_told(trouble)):
        change = {name: p - before.p.get(name, 0.0) for name, p in after.p.items() if name in titles}
        most = max(change, key=lambda name: abs(change[name]), default="")
        moved = ""
        if most and abs(change[most]) >= MOVED_LEAST:
            moved = (
                f"{titles[most]} from {chance(before.p.get(most, 0.0)).removesuffix(' in 100')} "
                f"to {chance(after.p[most])}"
            )
        found.append(
            StepShown(
                label=first_up(label_of(trouble, after)),
                code=after.code,
                time=after.time,
                entry=after.entry,
                moved=moved or "moved little",
            )
        )
    return found


def repairs_of(trouble: Trouble) -> list[RepairShown]:
    """Return the repairs that may end it, the best for their cost first."""
    return [
        RepairShown(
            row=one,
            costs=(*costs(one.minutes, 0.0, one.state, trouble.now.state), "a proof run"),
            sign=SIGNS[one.state],
            hazards=hazards(one.cautions),
            why_not=why_not(one.why_not),
            ends=_ends(trouble, one),
        )
        for one in trouble.repairs
        if not one.says
    ]


def barred_of(trouble: Trouble) -> list[tuple[str, list[str]]]:
    """Return the steps that cannot be made now, by the reason; the reason that bars most comes first."""
    groups: dict[str, list[str]] = {}
    for one in trouble.barred:
        groups.setdefault(why_not(one.why), []).append(one.title)
    return sorted(groups.items(), key=lambda pair: -len(pair[1]))


def _ends(trouble: Trouble, one: RepairRow) -> str:
    fixes = trouble.knowledge.repairs[one.id].fixes
    return listed([lower(short(title_of(cause))) for cause in trouble.causes if cause.id in fixes][:NAMED])


def to_tell(trouble: Trouble, rows: Sequence[SaidShown]) -> list[tuple[str, list[str]]]:
    """Return what to tell whoever is called: what shows, what was tried, what is still possible."""
    shows = [f"{one.title}: {one.word.lower()}" + _aside(one) for one in rows if one.what == "symptom"]
    tests = [f"{one.title}: {one.word[:1].lower()}{one.word[1:]}" + _aside(one) for one in rows if one.what == "test"]
    tried = [f"{first_up(one.title)}: {one.word.lower()}" + _aside(one) for one in rows if one.what == "repair"]
    named = [one for one in trouble.causes if one.p >= 0.03][:5]
    causes = [f"{OTHER_TITLE if one.id == 'other' else first_up(one.title)}: {chance(one.p)}" for one in named]
    heads = (("What shows", shows), ("Tests made", tests), ("Repairs tried", tried), ("Still possible", causes))
    return [(head, found) for head, found in heads if found] if shows or tests or tried else []


def _aside(one: SaidShown) -> str:
    parts = [part for part in (one.place, one.note.rstrip("."), f"finding {one.code}" if one.code else "") if part]
    return f" ({'; '.join(parts)})" if parts else ""


def why_rows(rows: Sequence[SaidShown]) -> dict[str, Any]:
    """Return what speaks for the leader against the second, the strongest first."""
    telling = sorted((one for one in rows if abs(one.decibans) >= TELLING), key=lambda one: -abs(one.decibans))
    return {"why": telling, "why_largest": max((abs(one.decibans) for one in telling), default=1.0)}
