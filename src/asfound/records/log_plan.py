"""Files of a log looked at before they are taken in: form and mapping by kind of file, and what has to be asked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from asfound.errors import AmbiguousError, InputError
from asfound.quantities.constants import ATMOSPHERE
from asfound.records.log_mapping import as_before

if TYPE_CHECKING:
    from asfound.history.log_form import LogForm
    from asfound.history.mapping import ColumnIs
    from asfound.history.mapping import Mapping as LogMapping
    from asfound.history.proposing import Proposal, Question
    from asfound.records.things import EngineRecord

HEAD_BYTES = 65_536
"""[Pa]"""
SAME_HEADS = (".csv", ".tsv", ".txt", ".log", ".dat")
"""Files of text whose beginning tells whether they are of one kind."""


@dataclass(slots=True)
class FilePlan:
    """A file and how it is read."""

    path: Path
    form: LogForm


@dataclass(slots=True)
class Plan:
    """Files of one source, ready to be taken in."""

    source: str
    files: list[FilePlan]
    mapping: LogMapping
    questions: list[Question]
    """What stays open: such columns are kept as they were written."""
    notes: list[str]
    proposals: list[Proposal] = field(default_factory=list)


def plan(
    files: Sequence[Path], source: str, *, zone: str = "", order: str = "", given: LogMapping | None = None,
    before: LogMapping | None = None, units_by_values: bool = False, changes: bool = True,
    barometer: float = ATMOSPHERE, tell: Callable[[str], None] | None = None,
) -> Plan:  # fmt: skip
    """Return how files of one source are read.

    Parameters
    ----------
    files : sequence of path
        In the order in which they are taken in.
    zone, order : str
        Answers to what files do not decide.
    given : Mapping, optional
        What a person says the columns are; heads that it does not know are proposed.
    before : Mapping, optional
        What they were at the import of this source before: taken where head and unit are the same and nothing is given.
    units_by_values : bool
        Take the unit that fits the values where none is written.
    barometer : float
        What gauge pressures are counted from where no mapping says it: `usual_barometer` of the engine's site. [Pa]

    Raises
    ------
    AmbiguousError
        The order of the dates or the time zone is not decided and not told.
    """
    from asfound.history.mapping import Mapping as LogMapping

    forms: dict[object, LogForm] = {}
    columns: dict[str, ColumnIs] = {one.head: one for one in given.columns} if given else {}
    found: list[FilePlan] = []
    notes: list[str] = []
    questions: dict[str, Question] = {}
    proposals: list[Proposal] = []
    for path in files:
        kind = _kind(path)
        if kind not in forms:
            proposal = _proposed(path, source, zone, order, columns, changes=changes, barometer=barometer)
            proposals.append(proposal)
            forms[kind] = proposal.form
            known = as_before(proposal.mapping.columns, proposal.form, before)
            for one in proposal.mapping_for_import(units_by_values=units_by_values).columns:
                columns.setdefault(one.head, known.get(one.head, one))
            said = {*known, *((one.head for one in given.columns) if given else ())}
            open_ = [one for one in proposal.questions if one.field not in ("order", "zone", *said)]
            questions |= {one.field: one for one in open_}
            notes += [note for note in proposal.kept_raw() if not any(f"'{head}'" in note for head in said)]
        found.append(FilePlan(path, forms[kind]))
        if tell is not None:
            tell(path.name)
    clock = given.clock if given else LogMapping(source=source, columns=()).clock
    mapping = LogMapping(source=source, columns=tuple(columns.values()), clock=clock, barometer=barometer)
    if (told := given or before) is not None:
        mapping = replace(mapping, barometer=told.barometer, gas_state=told.gas_state)
    return Plan(source, found, mapping, list(questions.values()), list(dict.fromkeys(notes)), proposals)


def usual_barometer(engine: EngineRecord) -> float:
    """Return the air pressure that is usual at an engine's height; that of the sea where no height is known. [Pa]

    A logger's gauge pressures are counted from it. The weather moves it by 3 %; a mapping may say another.
    """
    from asfound.power.height import standard_pressure

    height = engine.site.content.get("height") if engine.site else None
    found = float(standard_pressure(float(height))) if height is not None else ATMOSPHERE
    return found if found == found else ATMOSPHERE


def _proposed(
    path: Path, source: str, zone: str, order: str, known: Mapping[str, ColumnIs], *, changes: bool, barometer: float
) -> Proposal:
    from asfound.history.proposing import propose

    if not path.is_file():
        raise InputError("file", str(path), "is no file", try_next="Give the path of a log.")
    proposal = propose(path, zone=zone, order=order, source=source, changes=changes and not known, barometer=barometer)
    for question in proposal.questions:
        if question.field in ("order", "zone") and not getattr(proposal.form, question.field):
            raise AmbiguousError(
                question.field, path.name, question.because, choices=question.choices,
                try_next=f"{question.try_next} Then add --{question.field} to the command.".strip(),
            )  # fmt: skip
    return proposal


def _kind(path: Path) -> object:
    """Return what two files share that are written alike: all lines before the first row with figures."""
    if path.suffix.casefold() not in SAME_HEADS or not path.is_file():
        return path
    with path.open("rb") as file:
        lines = file.read(HEAD_BYTES).split(b"\n")[:6]
    head = [line for line in lines if sum(48 <= sign <= 57 for sign in line) < 0.35 * max(len(line), 1)]
    return path.suffix, tuple(head), len(lines[-1].split(b";")), len(lines[-1].split(b"\t"))


def answered(mapping: LogMapping, answers: Mapping[str, ColumnIs]) -> LogMapping:
    """Return a mapping in which a person's answers take the place of what was proposed; heads that it lacks come in."""
    columns = {one.head: one for one in mapping.columns} | dict(answers)
    return replace(mapping, columns=tuple(columns.values()))


def alarm_list(path: Path) -> bool:
    """Return whether a file is an alarm list: a CSV whose head has time, source, tag, state and class."""
    from asfound.history.events import HEADS

    if path.suffix.casefold() != ".csv" or not path.is_file():
        return False
    with path.open("rb") as file:
        words = file.readline(4096).decode("utf-8-sig", errors="replace").strip().lower().split(",")
    return all(any(name in words for name in names) for names in HEADS.values())


def groups(files: Sequence[FilePlan]) -> Iterator[tuple[LogForm, list[Path]]]:
    """Yield files behind each other that are read alike."""
    waiting: list[Path] = []
    form: LogForm | None = None
    for one in files:
        if form is not None and one.form is not form:
            yield form, waiting
            waiting = []
        form = one.form
        waiting.append(one.path)
    if form is not None:
        yield form, waiting
