"""`asfound catalogue`: tools for whoever writes a catalogue."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

from cyclopts import App

from asfound.cli import DONE, NO
from asfound.cli.answer import answer, coloured, columns, steps, wrapped
from asfound.cli.find import opened, view_of
from asfound.cli.options import Home, Out
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from asfound.fitout.check import Remark
    from asfound.fitout.engine_facts import EngineFacts

catalogue = App(name="catalogue")
Driven = Literal["compressor", "generator"]
EngineState = Literal["running", "stopped", "isolated"]
_MEANS = {"wrong": "stop", "doubt": "soon", "note": "note"}


@catalogue.command
def check(folder: Path | None = None, /, *, out: Out = Out()) -> int:
    """Check a catalogue: entries that no look tells apart, blank cells, sums, labels. Exits 1 when anything is wrong.

    Parameters
    ----------
    folder
        Folder or file of the catalogue; without it the one that ships with the program.
    """
    from asfound.fitout.catalogue import load_catalogue
    from asfound.fitout.check import check_catalogue

    known = load_catalogue(folder)
    remarks = check_catalogue(known)
    wrong = sum(one.weight == "wrong" for one in remarks)
    data = {
        "catalogue": known.name,
        "digest": known.digest,
        "wrong": wrong,
        "remarks": [one.as_dict() for one in remarks],
    }
    counts = f"{len(known.families)} families, {len(known.generations)} generations, {len(known.slots)} places"
    said = f"{known.title}: {counts}"
    answer(out, data, lambda: _remarks(said, remarks))
    return NO if wrong else DONE


def _remarks(said: str, remarks: Sequence[Remark]) -> Iterator[str]:
    yield coloured(said, "head")
    for one in remarks:
        yield coloured(f"{one.weight} {one.code}  {one.where}", _MEANS[one.weight])
        yield from wrapped(f"{one.says} {one.try_next}", "    ")
    yield f"{len(remarks)} remarks, {sum(one.weight == 'wrong' for one in remarks)} wrong"


@catalogue.command
def tree(
    family: str,
    driven: Driven = "compressor",
    /,
    *,
    folder: Path | None = None,
    allowed: tuple[EngineState, ...] = ("running",),
    sure: float = 0.95,
    deepest: int = 6,
    out: Out = Out(),
) -> None:
    """Print a catalogue as a decision tree, for paper.

    Parameters
    ----------
    family
        Family of the engine.
    driven
        What it drives.
    folder
        Folder or file of the catalogue; without it the one that ships with the program.
    allowed
        State of the engine in which looks are made; several.
    sure
        Chance from which a branch ends, 0 to 1.
    deepest
        Most looks in a row.
    """
    from asfound.fitout.catalogue import load_catalogue
    from asfound.fitout.tree import decision_tree

    known = load_catalogue(folder)
    if not 0.5 <= sure < 1:
        raise InputError("sure", str(sure), "is no chance to stop at", allowed="0.5 to below 1")
    root = decision_tree(known, _engine(known.family(family).id, driven), allowed=allowed, sure=sure, deepest=deepest)
    answer(out, root.as_dict(), root.lines)


@catalogue.command
def simulate(
    family: str = "",
    driven: Driven | None = None,
    /,
    *,
    folder: Path | None = None,
    trials: int = 20,
    seed: int = 1,
    allowed: tuple[EngineState, ...] = ("running",),
    out: Out = Out(),
) -> None:
    """Draw engines from a catalogue, with swapped and unlisted parts, and identify them: looks and minutes until right.

    Parameters
    ----------
    family
        Family of the engine; without it, every kind of engine of the catalogue.
    driven
        What it drives; without it, all.
    folder
        Folder or file of the catalogue; without it the one that ships with the program.
    trials
        Engines drawn for each build.
    seed
        The same seed gives the same table.
    allowed
        State of the engine in which looks are made; several.
    """
    from asfound.fitout.catalogue import load_catalogue
    from asfound.fitout.simulate import kinds_of_engine
    from asfound.fitout.simulate import simulate as run

    known = load_catalogue(folder)
    if trials < 1:
        raise InputError("trials", str(trials), "are too few", allowed="1 or more")
    wanted = known.family(family).id if family else ""
    kinds = [one for one in kinds_of_engine(known) if wanted in ("", one.family) and driven in (None, one.driven)]
    if not kinds:
        raise InputError("driven", str(driven), f"is not what an engine of {family} drives in this catalogue")
    tables = [
        (one, run(known, one, trials=trials, seed=seed, allowed=allowed)) for one in steps(kinds, "Drawing engines")
    ]
    data = [
        {
            "family": one.family,
            "driven": one.driven,
            "rows": [row.as_dict() for row in table.rows],
            "whole": table.whole.as_dict(),
            "expected_right": table.expected_right,
            "seed": table.seed,
        }
        for one, table in tables
    ]

    def told() -> Iterator[str]:
        for one, table in tables:
            yield coloured(f"{one.family}, {one.driven}", "head")
            yield table.text()
            yield ""

    answer(out, data, told)


@catalogue.command
def fit(
    *files: Path,
    folder: Path | None = None,
    stories: bool = False,
    strength: float | None = None,
    out: Out = Out(),
) -> None:
    """Fit a catalogue's rates from confirmed visits: files of observations with their truth.

    Parameters
    ----------
    files
        Files of observations; each says under truth what is really fitted.
    folder
        Folder or file of the catalogue; without it the one that ships with the program.
    stories
        The packaged stories of the invented world as well.
    strength
        Cases that a start value counts for.
    """
    from asfound.fitout import observations
    from asfound.fitout.catalogue import load_catalogue
    from asfound.fitout.fit_rates import STRENGTH, fit_rates

    visits = [observations.load_observations(file) for file in files]
    visits += [observations.story(name) for name in observations.STORIES] if stories else []
    if not visits:
        raise InputError("files", "", "are missing", try_next="Name files of confirmed visits, or say --stories.")
    fitted = fit_rates(load_catalogue(folder), visits, strength=STRENGTH if strength is None else strength)
    rows = [
        (one.name, f"{one.start:.3f}", f"{one.fitted:.3f}", f"{one.low:.3f} to {one.high:.3f}", one.cases)
        for one in fitted.rates
    ]
    head = ("rate", "start", "fitted", "95 in 100 within", "cases")
    data = {"visits": fitted.visits, "rates": [one.as_dict() for one in fitted.rates]}
    answer(out, data, lambda: [f"from {fitted.visits} visits", *columns(rows, head, right=(1, 2, 4))])


@catalogue.command
def draft(
    visit: str = "", /, *, story: str = "", output: Path | None = None, replace: bool = False, where: Home = Home()
) -> None:
    """Draft a first catalogue entry from a visit to an engine that no catalogue knows. Without --output, printed.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    story
        One of the packaged stories instead of a visit.
    output
        File to write.
    replace
        Write over a file that is there.
    """
    from asfound.cli.handover import free, write
    from asfound.fitout.catalogue import load_catalogue
    from asfound.fitout.draft import draft_entry
    from asfound.fitout.identify import identify
    from asfound.fitout.observations import story as told
    from asfound.records.catalogues import catalogue_of

    if bool(visit) == bool(story):
        raise InputError("visit", visit, "or --story: say one of them")
    if story:
        said = told(story)
        text = draft_entry(identify(load_catalogue(), said.engine, said.looks), said.looks, said.engine)
    else:
        records = opened(where)
        seen = view_of(records, visit)
        known = catalogue_of(records, seen.engine)
        looks = (*seen.looks_before, *seen.looks)
        found = seen.identification or identify(known, seen.facts, looks)
        text = draft_entry(found, looks, seen.facts, catalogue=known)
    if output is not None:
        free(output, replace)
        write(output, text.encode("utf-8"))
    data = {"file": str(output) if output else None, "text": text}
    answer(where, data, lambda: [f"Written: {output}"] if output else text.splitlines())


def _engine(family: str, driven: Driven) -> EngineFacts:
    from asfound.fitout.engine_facts import EngineFacts

    return EngineFacts(tag="-", family=family, driven=driven)
