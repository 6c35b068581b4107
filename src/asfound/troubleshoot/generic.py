"""The knowledge that ships with the program, and what of it applies to an engine."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from functools import cache, lru_cache

from asfound.errors import UnknownNameError
from asfound.sources.cautions import tags
from asfound.sources.tables import read_text
from asfound.troubleshoot.knowledge import KINDS, Cause, Knowledge, Repair, Test
from asfound.troubleshoot.schema import read_knowledge

FILE = "data/gas_engine.yaml"
OWN_FILE = "troubleshooting.yaml"
"""Name of a company's own file of knowledge in the home."""
NONE = ("none", "not_fitted", "absent")
"""Variants by which a caller says that a slot is empty."""


@cache
def generic() -> Knowledge:
    """Return the generic knowledge of stationary gas engines."""
    name = f"asfound/troubleshoot/{FILE}"
    return read_knowledge([(name, read_text("asfound.troubleshoot", FILE))], hazards=tags())


@lru_cache(maxsize=4)
def with_own(own: tuple[tuple[str, str], ...]) -> Knowledge:
    """Return the generic knowledge with a company's own files read after it: (name, text) each.

    Raises
    ------
    KnowledgeError
        A file of theirs is wrong; names it with line and column.
    """
    if not own:
        return generic()
    name = f"asfound/troubleshoot/{FILE}"
    return read_knowledge([(name, read_text("asfound.troubleshoot", FILE)), *own], hazards=tags())


def for_engine(
    knowledge: Knowledge, *, kinds: Mapping[str, bool] | None = None, fitted: Mapping[str, str] | None = None
) -> Knowledge:
    """Return what applies to this engine; all else stands in ``dropped`` with why.

    Parameters
    ----------
    kinds : mapping of str to bool
        ``{"lean": True, "catalyst": False}``; what is not said may be either and drops nothing.
    fitted : mapping of slot to variant
        ``{"nox_sensor": "none"}``; slots not named may hold anything.

    Raises
    ------
    UnknownNameError
        A kind that is none.
    """
    is_it, slots = dict(kinds or {}), dict(fitted or {})
    for kind in is_it:
        if kind not in KINDS:
            raise UnknownNameError("kind of engine", kind, KINDS)
    if is_it.get("lean"):
        is_it.setdefault("stoich", False)
    if is_it.get("stoich"):
        is_it.setdefault("lean", False)
    empty = {slot for slot, variant in slots.items() if variant in NONE}
    dropped: dict[str, str] = {}
    causes = {name: one for name, one in knowledge.causes.items() if not _out(one, is_it, empty, dropped)}
    tests = {
        name: _told(one, causes) for name, one in knowledge.tests.items() if not _idle(one, empty, causes, dropped)
    }
    repairs = {
        name: _mends(one, causes) for name, one in knowledge.repairs.items() if not _idle(one, empty, causes, dropped)
    }
    return replace(knowledge, causes=causes, tests=tests, repairs=repairs, dropped=dropped)


def _out(cause: Cause, is_it: Mapping[str, bool], empty: Collection[str], dropped: dict[str, str]) -> bool:
    if not is_it.get(cause.engine, True):
        dropped[cause.id] = f"this engine is not: {cause.engine}"
    elif cause.slot in empty:
        dropped[cause.id] = f"nothing is fitted in the slot {cause.slot}"
    return cause.id in dropped


def _idle(step: Test | Repair, empty: Collection[str], causes: Collection[str], dropped: dict[str, str]) -> bool:
    named = step.given if isinstance(step, Test) else step.fixes
    if step.slot in empty:
        dropped[step.id] = f"nothing is fitted in the slot {step.slot}"
    elif not any(cause in causes for cause in named):
        dropped[step.id] = "none of its causes applies to this engine"
    return step.id in dropped


def _told(test: Test, causes: Collection[str]) -> Test:
    return replace(test, given={name: p for name, p in test.given.items() if name in causes})


def _mends(repair: Repair, causes: Collection[str]) -> Repair:
    return replace(repair, fixes={name: p for name, p in repair.fixes.items() if name in causes})
