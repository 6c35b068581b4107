"""Protections: a list to name them by, what was seen of each, and settings whose words say that one is off.

The program never proposes to take one out of force; one that is found out of force is a finding, whoever did it and
why.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from asfound.sources.tables import load_csv

InForce = Literal["in_force", "off", "bypassed", "setting_moved", "not_judged"]
OUT_OF_FORCE = ("off", "bypassed")
SAYS_TITLES: Mapping[str, str] = {
    "in_force": "in force",
    "off": "off",
    "bypassed": "bypassed",
    "setting_moved": "set otherwise than the signed list",
    "not_judged": "could not be judged",
}
OTHER = "other"
GUARDS = re.compile(
    r"\b(protect|trip|shut ?down|interlock|safety|alarm|permissive|overspeed|detector|emergency|relief|guard|knock|"
    r"not-?aus|protecci|disparo|parada|enclavamiento|seguridad|sobrevelocidad)"
    r"|schutz|w(ä|ae)chter|abschalt|verriegel|sicherheit|(ü|ue)berdrehzahl|melder",
    re.I,
)
OFF = re.compile(
    r"^\s*(off|disabled?|inhibit(ed)?|bypass(ed)?|bridged|defeated|not active|inactive|blocked|none|no|false|"
    r"masked|aus|abgeschaltet|ausgeschaltet|deaktiviert|(ü|ue)berbr(ü|ue)ckt|gesperrt|"
    r"au(ß|ss)er (kraft|betrieb)|unwirksam|nein|"
    r"apagad[oa]|desactivad[oa]|anulad[oa]|puentead[oa]|inhibid[oa]|desconectad[oa]|bloquead[oa]|fuera de servicio)\b",
    re.I,
)
BY_PASS = re.compile(r"bypass|bridg|defeat|block|mask|br(ü|ue)ck|gesperrt|puente|anulad|bloquead", re.I)


@dataclass(frozen=True, slots=True, kw_only=True)
class Protection:
    """A protection by name, and words by which a setting may mean it."""

    id: str
    title: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProtectionSaid:
    """What was seen of a protection."""

    id: str
    title: str
    says: InForce
    place: str = ""
    by: str = ""
    time: str = ""
    note: str = ""
    entry: str = ""
    state: str = "as_found"
    of_setting: str = ""
    """Name and value of the setting that says so; empty where a person looked at the protection itself."""

    @property
    def out_of_force(self) -> bool:
        """Whether it does not protect."""
        return self.says in OUT_OF_FORCE


@cache
def protections() -> Mapping[str, Protection]:
    """Return the protections that can be named, by id."""
    rows = load_csv("asfound.troubleshoot", "data/protections.csv", columns=("id", "title", "words"))
    return {
        row["id"]: Protection(id=row["id"], title=row["title"], words=tuple(row["words"].split("|"))) for row in rows
    }


def of_settings(settings: Iterable[Mapping[str, Any]]) -> tuple[ProtectionSaid, ...]:
    """Return the protections that settings of the controls say are off, by their words.

    Parameters
    ----------
    settings : iterable of mapping
        ``name`` (as the controls call it), ``as_typed``; entry, time, place, state and note go along.
    """
    found = []
    for one in settings:
        name, typed = str(one.get("name", "")), str(one.get("as_typed", ""))
        if not GUARDS.search(name.replace("_", " ")) or not OFF.search(typed):
            continue
        which = named_by(name)
        found.append(
            ProtectionSaid(
                id=which.id,
                title=which.title if which.id != OTHER else name,
                says="bypassed" if BY_PASS.search(typed) else "off",
                place=str(one.get("place", "")),
                by=str(one.get("by", "")),
                time=str(one.get("time", "")),
                note=str(one.get("note", "")),
                entry=str(one.get("entry", "")),
                state=str(one.get("state", "as_found")),
                of_setting=f"{name}: {typed}",
            )
        )
    return tuple(found)


def named_by(name: str) -> Protection:
    """Return the protection that a setting's name means; `OTHER` where it tells only that it is one."""
    text = name.lower().replace("_", " ")
    known = protections()
    return next(
        (one for one in known.values() if one.id != OTHER and any(word in text for word in one.words)), known[OTHER]
    )
