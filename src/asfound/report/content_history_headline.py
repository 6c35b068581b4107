"""What a log says first: what wants a look, or what moved before and came to rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.history.look_words import says_of, stepped

if TYPE_CHECKING:
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
        titles = [one.title for one in rest[:4]]
        more = f" and {len(rest) - 4} more" if len(rest) > 4 else ""
        said.append(f"Also: {', '.join(titles)}{more}.")
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
    more = f" and {len(rest) - 4} more" if len(rest) > 4 else ""
    too = f" Stepped too: {', '.join(rest[:4])}{more}." if rest else ""
    return f"{first} {stepped(*moved[0], system)}.", f"Nothing moves now: {stands}{too}"
