"""What a log says first: what wants a look, or what moved before and came to rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.history.look_words import says_of, stepped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asfound.history.look_parts import EngineLook
    from asfound.report.wording import System


def headline_of(look: EngineLook, system: System) -> tuple[str, ...]:
    """Return the sentences that lead: what wants a look first, and what else moves; empty where nothing is known."""
    worst = look.worst
    if worst is None:
        return _at_rest(look, system)
    rest = [one for one in look.indicators if one.judged in ("beyond", "near", "moves") and one is not worst]
    said = [says_of(worst, system)]
    if rest:
        said.append(f"Also: {_listed([one.title for one in rest])}.")
    return tuple(said)


def _at_rest(look: EngineLook, system: System) -> tuple[str, ...]:
    """Say of a log in which nothing moves what moved before and came to rest, the greatest first, then that it stands.

    A step counts by how many times what matters it is.
    """
    still = [one for one in look.indicators if one.judged == "still"]
    if not still:
        return ()
    stands = f"{len(still)} watched readings stand where they stood, at equal load and ambient."
    moved = [(one, max(one.steps, key=lambda step: abs(step.size.value))) for one in still if one.steps]
    if not moved:
        return (f"Nothing moves: {stands}",)
    moved.sort(key=lambda row: -abs(row[1].size.value) / max(row[0].matters, 1e-300))
    first, *rest = [one.title for one, _ in moved]
    too = f" Stepped too: {_listed(rest)}." if rest else ""
    return f"{first} {stepped(*moved[0], system)}.", f"Nothing moves now: {stands}{too}"


def _listed(titles: Sequence[str]) -> str:
    """Return the first four titles, and how many there are besides."""
    return ", ".join(titles[:4]) + (f" and {len(titles) - 4} more" if len(titles) > 4 else "")
