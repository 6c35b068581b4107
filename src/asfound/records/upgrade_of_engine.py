"""Upgrade gap and its money for one engine, from what its newest visit believes and what a person chose.

A home may hold its own files, `upgrade.yaml` (places, changes, targets) and `case.yaml` (assumptions of the money), in
the shapes of docs/upkeep.md, and one for each family of engines beside them (`upgrade_TR10.yaml`); without them the
packaged, invented ones stand.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.errors import AsFoundError, InputError
from asfound.records.catalogues import catalogue_of
from asfound.records.upkeep_of_engine import of_kind
from asfound.upkeep.case_inputs import CaseInputs, fields, read_case
from asfound.upkeep.manager_case import ManagerCase, case_for_the_manager
from asfound.upkeep.upgrade_file import read_upgrade
from asfound.upkeep.upgrade_study import Study, TargetStudy, study

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from asfound.fitout.identification import Identification
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord
    from asfound.records.visit import VisitView

UPGRADE_FILE, CASE_FILE = "upgrade.yaml", "case.yaml"
PLAIN = re.compile(r"[\w-]{1,40}")
"""Names of families that a file can be named by."""
CASE_TARGET = "full_odd_brackets"
"""What the packaged assumptions of the money were written for; for another target they may not hold."""
HOURS_BESIDE = 0.0
"""Hours down beside the work of the plan: cooling, waiting; none unless the assumptions say more. [h]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class UpgradeOfEngine:
    """What is known of upgrading an engine."""

    study: Study | None
    chosen: TargetStudy | None
    """The target that a person chose, else the first that has a way."""
    by_person: Entry | None
    inputs: CaseInputs | None
    case: ManagerCase | None
    fits: bool = True
    """The assumptions were written for this target, or a person chose it with them."""
    problem: str = ""
    """Why there is no study, in words."""


def upgrade_of(records: Records, engine: EngineRecord, *, target: str = "") -> UpgradeOfEngine:
    """Return the upgrade study of an engine with the money of one target; worked out once for each state of the record.

    Parameters
    ----------
    target : str, optional
        Which target is looked at; the one chosen on the record, else the first with a way.
    """
    plan = next(reversed(of_kind(records, engine.id, "upgrade_plan")), None)
    files = _stamps(records, engine)
    key = ("upgrade", engine.id, target, records.revision(engine.id), files)

    def work() -> UpgradeOfEngine:
        try:
            found = _study(records, engine, files)
            chosen = _chosen(found, target or (str(plan.content["target"]) if plan else ""))
            changed = plan.content.get("assumptions", {}) if plan else {}
            inputs, case = _case(own_file(records, engine, CASE_FILE), chosen, changed)
        except AsFoundError as refused:
            return UpgradeOfEngine(
                study=None, chosen=None, by_person=plan, inputs=None, case=None, problem=str(refused)
            )
        of_plan = plan is not None and chosen is not None and plan.content["target"] == chosen.id
        fits = of_plan or (chosen is not None and chosen.id == CASE_TARGET and files[1] is None)
        return UpgradeOfEngine(study=found, chosen=chosen, by_person=plan, inputs=inputs, case=case, fits=fits)

    made: UpgradeOfEngine = records.remembered(key, work, slot=("upgrade", engine.id, target))
    return made


def upgrade_of_visit(records: Records, seen: VisitView) -> UpgradeOfEngine:
    """Return the study by what one visit believes and what had been chosen by its seal: the same each time it is made.

    Where else a part that comes off would fit is left out, because other engines change.
    """
    files = _stamps(records, seen.engine)
    key = ("upgrade of a visit", seen.id, records.revision(seen.engine.id), files)
    made: UpgradeOfEngine = records.remembered(
        key, lambda: _of_visit(records, seen, files[1]), slot=("upgrade of a visit", seen.id)
    )
    return made


def _of_visit(records: Records, seen: VisitView, own: tuple[str, int, int] | None) -> UpgradeOfEngine:
    until = seen.seal.id if seen.seal else None
    plan = next(reversed(of_kind(records, seen.engine.id, "upgrade_plan", until=until)), None)
    try:
        found = _studied(records, seen.engine, seen.identification, {})
        chosen = _chosen(found, str(plan.content["target"]) if plan else "")
        assumed = plan.content.get("assumptions", {}) if plan else {}
        inputs, case = _case(own_file(records, seen.engine, CASE_FILE), chosen, assumed)
    except AsFoundError as refused:
        return UpgradeOfEngine(study=None, chosen=None, by_person=plan, inputs=None, case=None, problem=str(refused))
    of_plan = plan is not None and chosen is not None and plan.content["target"] == chosen.id
    fits = of_plan or (chosen is not None and chosen.id == CASE_TARGET and own is None)
    return UpgradeOfEngine(study=found, chosen=chosen, by_person=plan, inputs=inputs, case=case, fits=fits)


def keep_plan(
    records: Records, engine: EngineRecord, target: str, assumptions: Mapping[str, float], *, who: str, why: str = ""
) -> Entry:
    """Keep the target that is chosen and the assumptions that differ from the file.

    Raises
    ------
    InputError, UnknownNameError
        The target or an assumption is unknown, or a value cannot be.
    """
    from asfound.errors import UnknownNameError
    from asfound.upkeep.case_inputs import assumption

    found = upgrade_of(records, engine)
    if found.study is None:
        raise InputError("target", target, f"cannot be chosen: {found.problem}")
    if found.study.target(target) is None:
        raise UnknownNameError("target", target, [one.id for one in found.study.targets])
    for name, value in assumptions.items():
        assumption(name, value)
    today = records.clock.now().date().isoformat()
    content: dict[str, Any] = {"date": today, "target": target, "assumptions": dict(assumptions), "why": why}
    return records.append("upgrade_plan", content, engine=engine.id, who=who)


def own_file(records: Records, engine: EngineRecord, name: str) -> Path | None:
    """Return a file of the home: that of the engine's family (``upgrade_TR10.yaml``), else the one for all; or None."""
    stem, ending = name.split(".")
    family = str(engine.content.get("family", ""))
    of_family = records.home.folder / f"{stem}_{family}.{ending}"
    if PLAIN.fullmatch(family) and of_family.exists():
        return of_family
    for_all = records.home.folder / name
    return for_all if for_all.exists() else None


def _stamps(records: Records, engine: EngineRecord) -> tuple[tuple[str, int, int] | None, ...]:
    """Return what is known of both files, so that a changed one is read again."""
    files = (own_file(records, engine, name) for name in (UPGRADE_FILE, CASE_FILE))
    return tuple(None if one is None else _stamp(one) for one in files)


def _stamp(path: Path) -> tuple[str, int, int] | None:
    try:
        seen = path.stat()
    except OSError:
        return None
    return str(path), seen.st_mtime_ns, seen.st_size


def _study(records: Records, engine: EngineRecord, files: tuple[Any, ...]) -> Study:
    """Return the study, from what the newest visit believes; it does not hang on the target that is looked at."""
    from asfound.records.visit import view

    key = ("upgrade study", engine.id, records.revision(engine.id), files[0])

    def work() -> Study:
        visits = records.visits(engine.id)
        believed = view(records, visits[-1].id).identification if visits else None
        return _studied(records, engine, believed, _others(records, engine))

    found: Study = records.remembered(key, work, slot=("upgrade study", engine.id))
    return found


def _studied(
    records: Records,
    engine: EngineRecord,
    believed: Identification | None,
    others: Mapping[str, Mapping[str, str]],
) -> Study:
    """Return the study of one belief, by the file of the home or the packaged one."""
    catalogue = catalogue_of(records, engine)
    file = read_upgrade(own_file(records, engine, UPGRADE_FILE), catalogue)
    family = str(engine.content.get("family", ""))
    if family != file.family:
        raise InputError(
            "family", family or "not known", f"is not what the upgrade file is about ({file.family})",
            try_next=f"Put a file for this family into the home as upgrade_{family or 'FAMILY'}.yaml; docs/upkeep.md "
            "shows how it is written.",
        )  # fmt: skip
    if believed is None:
        raise InputError("engine", engine.tag, "has not been looked at yet", try_next="Look at it on a visit first.")
    return study(file, catalogue, believed, others=others)


def _others(records: Records, engine: EngineRecord) -> dict[str, dict[str, str]]:
    """Return what the other engines are believed to have, place by place: where a part that comes off is fitted too."""
    from asfound.records.visit import view

    found = {}
    for one in records.engines():
        visits = records.visits(one.id) if one.id != engine.id else ()
        seen = view(records, visits[-1].id).identification if visits else None
        if seen is not None:
            found[one.tag] = {place.slot: place.variants[0].name for place in seen.places if place.variants}
    return found


def _chosen(found: Study, target: str) -> TargetStudy | None:
    named = found.target(target or CASE_TARGET)
    return (
        named if named and (target or named.way) else next((one for one in found.targets if one.way is not None), None)
    )


def _case(
    own: Path | None, chosen: TargetStudy | None, changed: Mapping[str, float]
) -> tuple[CaseInputs | None, ManagerCase | None]:
    if chosen is None or chosen.way is None:
        return None, None
    inputs = read_case(own)
    inputs = inputs.with_way(chosen.way, hours_beside=HOURS_BESIDE, parts_back=chosen.row.worth_back)
    known = {name: float(value) for name, value in changed.items() if name in fields()}
    if known:
        inputs = inputs.with_values(**known)
    return inputs, case_for_the_manager(inputs)
