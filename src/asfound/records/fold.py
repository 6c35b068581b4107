"""What a set of entries adds up to: which stand, which are replaced or withdrawn, and which corrections clash.

The outcome depends on the set alone, never on the order in which entries came in, so two laptops that hold the same
entries show the same record.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from asfound.records.entries import Entry

CHANGING = frozenset({"withdrawn", "resolution"})
"""Kinds that change what others add up to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Two or more corrections of one entry, none of which knew the other; shown until a person settles it."""

    about: Entry
    """The entry that was corrected more than once."""
    between: tuple[Entry, ...]
    """Its corrections that still clash, in the order of their identifiers."""
    stand: tuple[Entry, ...]
    """What stands for each of them now (itself, or what corrected it later)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fold:
    """What entries add up to."""

    current: tuple[Entry, ...]
    """Entries that stand, in the order of their identifiers; those in conflict all stand."""
    void: frozenset[str]
    """Identifiers of entries that were withdrawn."""
    replaced: Mapping[str, tuple[str, ...]]
    """Identifier of a corrected entry to those of the entries that stand for it now."""
    conflicts: tuple[Conflict, ...]
    settled: tuple[Entry, ...] = ()
    """Resolutions that stand: of corrections, and of readings that stand side by side."""

    def standing(self, identifier: str) -> tuple[str, ...]:
        """Return which entries stand for one: itself, its corrections, or none when it was withdrawn."""
        if identifier in self.replaced:
            return self.replaced[identifier]
        return () if identifier in self.void else (identifier,)


def fold(entries: Iterable[Entry]) -> Fold:
    """Return what entries add up to.

    ``withdrawn`` makes the entry that it names void, and may itself be withdrawn. Any other entry that names another in
    ``corrects`` replaces it; where a void correction was itself corrected, the later correction counts for the first
    entry. A ``resolution`` says which of several corrections stand; one that it does not mention clashes anew.
    """
    by_id = {entry.id: entry for entry in entries}
    ordered = [by_id[identifier] for identifier in sorted(by_id)]
    if not any(entry.corrects or entry.kind in CHANGING for entry in ordered):  # all of them stand, as mostly
        return Fold(current=tuple(ordered), void=frozenset(), replaced={}, conflicts=())
    void = _void(ordered)
    children: defaultdict[str, list[Entry]] = defaultdict(list)
    for entry in ordered:
        if entry.corrects and entry.kind not in ("withdrawn", "resolution") and entry.corrects < entry.id:
            children[entry.corrects].append(entry)
    resolutions = _resolutions(ordered, void)
    settled: defaultdict[str, list[Entry]] = defaultdict(list)
    for entry in resolutions:
        if not side_by_side(entry):
            settled[str(entry.content.get("about"))].append(entry)
    branches = {about: _effective(about, children, void) for about in children}
    stands: dict[str, tuple[str, ...]] = {}
    conflicts = []
    for about in sorted(branches, reverse=True):  # corrections bear higher identifiers, so they are done before
        branch = branches[about]
        chosen, open_ = _settle(branch, settled.get(about, []))
        leaves = tuple(sorted({leaf for one in chosen for leaf in stands.get(one.id, (one.id,))}))
        if branch:
            stands[about] = leaves
        if len(open_) > 1 and about in by_id and about not in void:
            conflicts.append(
                Conflict(
                    about=by_id[about],
                    between=open_,
                    stand=tuple(by_id[leaf] for one in open_ for leaf in stands.get(one.id, (one.id,))),
                )
            )
    set_aside = {
        one.id
        for about, branch in branches.items()
        for one in branch
        if one not in _settle(branch, settled.get(about, []))[0]
    }
    gone = _below(set_aside, children) | _aside(resolutions)
    current = tuple(
        entry
        for entry in ordered
        if entry.id not in void and entry.id not in stands and entry.id not in gone and entry.kind != "withdrawn"
    )
    return Fold(
        current=current,
        void=frozenset(void),
        replaced=stands,
        conflicts=tuple(sorted(conflicts, key=lambda one: one.about.id)),
        settled=tuple(resolutions),
    )


def side_by_side(resolution: Entry) -> bool:
    """Tell whether a resolution is about entries that stand side by side, and not about corrections of one."""
    return resolution.content.get("about") in named_in(resolution)


def named_in(resolution: Entry) -> frozenset[str]:
    """Return the identifiers between which a resolution chooses."""
    return frozenset((*resolution.content.get("choose", ()), *resolution.content.get("set_aside", ())))


def _aside(resolutions: list[Entry]) -> set[str]:
    """Return what stands no longer of entries side by side; where two resolutions differ it stands."""
    sides = [one for one in resolutions if side_by_side(one)]
    aside = {str(name) for one in sides for name in one.content.get("set_aside", ())}
    return aside - {str(name) for one in sides for name in one.content.get("choose", ())}


def _void(ordered: list[Entry]) -> set[str]:
    """Return what was withdrawn; the newest withdrawals are judged first, since they may undo older ones."""
    void: set[str] = set()
    for entry in reversed(ordered):
        if entry.kind == "withdrawn" and entry.corrects and entry.corrects < entry.id and entry.id not in void:
            void.add(entry.corrects)
    return void


def _effective(about: str, children: Mapping[str, list[Entry]], void: set[str]) -> tuple[Entry, ...]:
    """Return the corrections of an entry that count: those not void, and through a void one those that corrected it."""
    found: list[Entry] = []
    waiting = list(children.get(about, ()))
    while waiting:
        one = waiting.pop()
        if one.id in void:
            waiting.extend(children.get(one.id, ()))
        else:
            found.append(one)
    return tuple(sorted(found, key=lambda entry: entry.id))


def _resolutions(ordered: list[Entry], void: set[str]) -> list[Entry]:
    """Return the resolutions that stand."""
    found = [entry for entry in ordered if entry.kind == "resolution" and entry.id not in void]
    replaced = {entry.corrects for entry in found}
    return [entry for entry in found if entry.id not in replaced]


def _settle(branch: tuple[Entry, ...], resolutions: list[Entry]) -> tuple[tuple[Entry, ...], tuple[Entry, ...]]:
    """Return the corrections that stand, and those that still clash; two resolutions that differ settle nothing."""
    said = {
        (tuple(sorted(one.content["choose"])), tuple(sorted(one.content.get("set_aside", ())))) for one in resolutions
    }
    if len(said) != 1:
        return branch, branch
    choose, set_aside = next(iter(said))
    new = [one for one in branch if one.id not in choose and one.id not in set_aside]
    stand = tuple(one for one in branch if one.id not in set_aside)
    return stand, (stand if new else ())


def _below(roots: set[str], children: Mapping[str, list[Entry]]) -> set[str]:
    """Return identifiers of the roots and of all that corrects them, at any depth."""
    found, waiting = set(roots), list(roots)
    while waiting:
        for child in children.get(waiting.pop(), ()):
            if child.id not in found:
                found.add(child.id)
                waiting.append(child.id)
    return found
