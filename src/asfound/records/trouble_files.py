"""What a company keeps of its own on troubles, in files of its home: knowledge, and names of fault codes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.errors import AsFoundError, KnowledgeError
from asfound.troubleshoot.fault_names import OWN_CODES, CodeName, read_names
from asfound.troubleshoot.generic import OWN_FILE, generic, with_own

if TYPE_CHECKING:
    from asfound.records.store import Records
    from asfound.troubleshoot.knowledge import Knowledge


def knowledge_of(records: Records) -> Knowledge:
    """Return the knowledge of this home: the generic one with the company's own; the generic one where theirs fails."""
    try:
        return with_own(own_knowledge(records, []))
    except KnowledgeError:
        return generic()


def own_knowledge(records: Records, problems: list[str]) -> tuple[tuple[str, str], ...]:
    """Return the company's own file of knowledge as (name, text); nothing where there is none."""
    text = _read(records, OWN_FILE, problems)
    return ((str(records.home.folder / OWN_FILE), text),) if text.strip() else ()


def own_code_names(records: Records, problems: list[str]) -> dict[tuple[int, int | None], CodeName]:
    """Return what the home's table says of fault codes; nothing where there is none or it is wrong, which is said."""
    text = _read(records, OWN_CODES, problems)
    if not text.strip():
        return {}
    try:
        return read_names(text, file=str(records.home.folder / OWN_CODES))
    except AsFoundError as fault:
        problems.append(f"The table of fault codes is left out until it is put right: {fault}")
        return {}


def _read(records: Records, name: str, problems: list[str]) -> str:
    path = records.home.folder / name
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return ""
    except (OSError, UnicodeDecodeError) as fault:
        problems.append(f"{path} cannot be read: {fault}")
        return ""
