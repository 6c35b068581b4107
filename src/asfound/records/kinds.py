"""What each kind of entry holds: one model per kind, checked when an entry is written or comes in from outside.

A model is the place where a kind is documented: its field docstrings go into the published JSON schema. Unknown fields
are refused, and so are numbers that are not finite. ``check(kind, content)`` is the only door.
"""

from __future__ import annotations

import json
from typing import Any

from pydantic import TypeAdapter, ValidationError

from asfound.errors import InputError, UnknownNameError
from asfound.records.kind_base import Content, Line
from asfound.records.kinds_home import Engine, Instrument, Limit, Site
from asfound.records.kinds_logs import LOG_KINDS
from asfound.records.kinds_office import OFFICE_KINDS
from asfound.records.kinds_seal import Addendum, Resolution, Sealed, Withdrawn
from asfound.records.kinds_troubleshooting import TROUBLE_KINDS
from asfound.records.kinds_upkeep import UPKEEP_KINDS
from asfound.records.kinds_visit import (
    CylinderLook,
    EmissionTest,
    FindingDecision,
    Look,
    MethodChoice,
    Note,
    OpenPoint,
    Photo,
    Reading,
    ReadingJudged,
    Setting,
    VisitOpened,
    VisitState,
)
from asfound.records.kinds_whatif import WHATIF_KINDS

KINDS: dict[str, type[Content]] = {
    "site": Site,
    "engine": Engine,
    "limit": Limit,
    "instrument": Instrument,
    "visit_opened": VisitOpened,
    "visit_state": VisitState,
    "look": Look,
    "reading": Reading,
    "note": Note,
    "photo": Photo,
    "finding_decision": FindingDecision,
    "open_point": OpenPoint,
    "setting": Setting,
    "method_choice": MethodChoice,
    "emission_test": EmissionTest,
    "reading_judged": ReadingJudged,
    "cylinder_look": CylinderLook,
    "sealed": Sealed,
    "addendum": Addendum,
    "resolution": Resolution,
    "withdrawn": Withdrawn,
    **TROUBLE_KINDS,
    **UPKEEP_KINDS,
    **LOG_KINDS,
    **WHATIF_KINDS,
    **OFFICE_KINDS,
}
OF_THE_HOME = frozenset({"site", "instrument"})
"""Kinds that belong to no engine."""
OF_AN_ENGINE = frozenset({"engine", "limit", *LOG_KINDS, *UPKEEP_KINDS, *OFFICE_KINDS})
"""Kinds that belong to an engine and to no visit. ``withdrawn`` and ``resolution`` go where their entry is."""
ANYWHERE = frozenset({"withdrawn", "resolution", "note", "photo"})


_LINE: TypeAdapter[str] = TypeAdapter(Line)


def check_who(who: str) -> str:
    """Return the name under which an entry is kept; InputError where it cannot stand on one."""
    try:
        kept = _LINE.validate_python(who)
    except ValidationError as refused:
        raise _as_input_error("who", refused) from None
    if "\0" in kept:
        raise InputError("who", "U+0000", "cannot be kept in a record", try_next="Leave it out.")
    return kept


def readable(kind: str, content: dict[str, Any]) -> bool:
    """Tell whether a stored content still is what its kind asks for; True for a kind of a newer program."""
    model = KINDS.get(kind)
    if model is None:
        return True
    try:
        model.model_validate(content)
    except ValidationError:
        return False
    return True


def check(kind: str, content: dict[str, Any]) -> dict[str, Any]:
    """Return the content of an entry as it will be kept: complete, JSON-ready, without what is None.

    Raises
    ------
    UnknownNameError
        There is no such kind.
    InputError
        A field is missing, unknown or impossible; names the first, tells how many more.
    """
    model = KINDS.get(kind)
    if model is None:
        raise UnknownNameError("kind of entry", kind, KINDS)
    try:
        kept = model.model_validate(content)
    except ValidationError as refused:
        raise _as_input_error(kind, refused) from None
    plain: dict[str, Any] = kept.model_dump(mode="json", exclude_none=True)
    _refuse_odd(kind, plain)
    for name, value in plain.items():
        if "\\u0000" in json.dumps(value):  # PostgreSQL's text cannot hold it
            raise InputError(f"{kind}.{name}", "U+0000", "cannot be kept in a record", try_next="Leave it out.")
    return plain


def _refuse_odd(kind: str, plain: dict[str, Any]) -> None:
    """Refuse what the schema lets pass and nobody means; what is kept already stays readable."""
    layout = plain.get("layout") or {}
    if kind == "engine" and layout.get("form") == "vee" and layout.get("cylinders", 0) % 2:
        raise InputError(
            "engine.cylinders", str(layout["cylinders"]), "do not stand in two like rows", allowed="an even number",
            try_next="Count both rows together.",
        )  # fmt: skip
    place = str(plain.get("place", ""))
    if kind == "reading" and place.endswith("_"):
        raise InputError(
            "reading.place", place, "does not say which one", allowed="cylinder_3, cylinder_L3, bearing_2, stage_1 ...",
            try_next="Write the number behind it.",
        )  # fmt: skip


_WORDS_FOR = {
    "string_unicode": "it has a sign that is none (not UTF-8)",
    "string_pattern_mismatch": "it has a sign that cannot stand there, or is too long",
}


def _as_input_error(kind: str, refused: ValidationError) -> InputError:
    """Say the first complaint in the words of this program."""
    complaints = refused.errors(include_url=False, include_context=False)
    first = complaints[0]
    where = ".".join(str(part) for part in first["loc"])
    more = f"{len(complaints) - 1} more in this entry." if len(complaints) > 1 else ""
    given = "" if first["type"] == "missing" else str(first.get("input", ""))[:200]
    because = _WORDS_FOR.get(first["type"], first["msg"])
    return InputError(f"{kind}.{where}".rstrip("."), given, f"cannot be kept: {because}", try_next=more)
