"""The page on which a gas analysis is entered: pasted, typed or as a file; shown as understood, then kept as one."""

from __future__ import annotations

import mimetypes
from dataclasses import dataclass, field
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from starlette.datastructures import UploadFile
from starlette.routing import Route

from asfound.errors import AsFoundError, InputError
from asfound.fuel.air_in_sample import without_air
from asfound.fuel.analysis_files import text_of
from asfound.fuel.gas_summary import summary
from asfound.fuel.iso6976 import SUM_TOLERANCE, Reference
from asfound.fuel.report_traces import VOLUMES
from asfound.fuel.splits import stated_splits
from asfound.fuel.understood import understand
from asfound.fuel.visit_gas import of_composition
from asfound.quantities.words import STATES
from asfound.records.gas_analysis import NOTE, Paper, kept, source_words, take, undo
from asfound.sources.cautions import cautions_for
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.gas_bodies import sampled_on
from asfound.web.pages import go, house_of
from asfound.web.security import PHOTO_LIMIT

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.fuel.composition import Composition
    from asfound.fuel.gas_summary import Property
    from asfound.fuel.understood import Understood
    from asfound.web.frame import AtVisit

LONGEST_TEXT = 100_000
BASES = (("", "as the report's head says"), ("mole", "mole per cent"), ("volume", "volume per cent"),
         ("mass", "mass per cent"))  # fmt: skip
PLUS_MINUS = (("", "not said"), ("standard", "a standard uncertainty"), ("k2", "twice that (k = 2, 95 %)"))
UNCERTAIN = (("report", "what the report says, else the usual"), ("astm_d1945", "ASTM D1945, two laboratories"))
REFERENCES = {"si": "15/15", "us": "60F/60F"}
OPTIONS = ("basis", "heavier", "plus_minus", "decimal", "volume_at", "uncertain", "sampled", "laboratory", "report",
           "scale", "without_air", "leave_refused", "correct")  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Typed:
    """What stands in the form."""

    text: str = ""
    filename: str = ""
    digest: str = ""
    """Of the file that the text was read from, kept beside the record."""
    options: dict[str, str] = field(default_factory=lambda: dict.fromkeys(OPTIONS, ""))

    def has(self, name: str) -> bool:
        """Return whether a box is ticked."""
        return bool(self.options.get(name))


@dataclass(frozen=True, kw_only=True)
class Seen:
    """A report as it was understood, with what the page says of it."""

    understood: Understood
    gas: Composition | None
    """Ready to be kept; None while something stands against it."""
    properties: tuple[Property, ...]
    counted: tuple[str, ...]
    air: float
    off: str
    """What the sum is, where it is not 100 %."""


def show_gas(request: Request) -> Response:
    """Show what gas lies on the visit, and the form for an analysis."""
    return _page(request, at_visit(request), Typed())


def keep_gas(request: Request, form: FormData) -> Response:
    """Show how an analysis was understood; keep it when that was asked and nothing stands against it."""
    here, house = at_visit(request), house_of(request)
    try:
        typed = _typed(form, house)
        seen = _seen(typed, here)
    except AsFoundError as refused:
        return _page(request, here, _of_form(form), complaint=str(refused), status=422)
    if text(form, "do") != "keep" or seen.gas is None:
        asked = text(form, "do") == "keep"
        return _page(request, here, typed, seen=seen, status=422 if asked or seen.gas is None else 200)
    try:
        _keep(here, house, typed, seen)
    except AsFoundError as refused:
        return _page(request, here, typed, seen=seen, complaint=str(refused), status=422)
    return go(f"{here.base}/fuel")


def undo_gas(request: Request, form: FormData) -> Response:
    """Take back the analysis that was taken last in a state."""
    here, house = at_visit(request), house_of(request)
    state = text(form, "state")
    try:
        if state not in STATES:
            raise InputError("state", state, "is no state of a visit", allowed=", ".join(STATES))
        undo(house.records, here.view, state, who=here.prefs.who, why="taken back on the page")
    except AsFoundError as refused:
        return _page(request, here, Typed(), complaint=str(refused), status=422)
    return go(f"{here.base}/gas")


def _page(
    request: Request,
    here: AtVisit,
    typed: Typed,
    *,
    seen: Seen | None = None,
    complaint: str = "",
    status: int = 200,
) -> Response:
    there = [one for state in STATES if (one := kept(here.view, state)) is not None]
    return visit_page(
        request,
        "gas_analysis.html",
        here,
        step="fuel",
        title="Gas analysis",
        status=status,
        typed=typed,
        seen=seen,
        complaint=complaint,
        there=there,
        taken_as_one={one.state for one in there if any(each.note.startswith(NOTE) for each in one.readings)},
        findings_of_gas=[one for one in here.view.findings if one.subject == "fuel"],
        bases=BASES,
        plus_minus=PLUS_MINUS,
        uncertain=UNCERTAIN,
        splits=(("", "none stated"), *((name, name) for group, name in stated_splits() if group == "hexanes_plus")),
        volumes=(("", "not said"), *((one, one) for one in VOLUMES)),
        reference=REFERENCES[here.system],
        cautions=cautions_for(("gas", "h2s")),
    )


def _of_form(form: FormData) -> Typed:
    """Return what was typed, without opening a file."""
    return Typed(
        text=text(form, "text")[:LONGEST_TEXT],
        filename=text(form, "filename")[:200],
        digest=text(form, "digest")[:64],
        options={name: text(form, name)[:200] for name in OPTIONS},
    )


def _typed(form: FormData, house: Any) -> Typed:
    """Return what stands in the form; a file that came with it takes the place of the text.

    Raises
    ------
    InputError
        The file cannot be read, or the text is too long.
    """
    typed = _of_form(form)
    if len(text(form, "text")) > LONGEST_TEXT:
        raise InputError("text", "", "is too long for a report", allowed="100,000 signs",
                         try_next="The log of a chromatograph is read by `asfound gas log`.")  # fmt: skip
    file = form.get("file")
    if not isinstance(file, UploadFile) or not file.filename:
        return typed
    content = file.file.read(PHOTO_LIMIT + 1)
    if len(content) > PHOTO_LIMIT:
        raise InputError("file", file.filename, "is too large", allowed="25 MB")
    name = PurePath(file.filename.replace("\\", "/")).name[:200] or "analysis"
    read = text_of(content, name)
    if len(read) > LONGEST_TEXT:
        raise InputError("file", name, "holds more than a report", allowed="100,000 signs",
                         try_next="The log of a chromatograph is read by `asfound gas log`.")  # fmt: skip
    digest = house.records.attach(content, name, _media_type(name))
    return Typed(text=read, filename=name, digest=digest, options=typed.options)


def _media_type(name: str) -> str:
    return mimetypes.guess_type(name)[0] or "application/octet-stream"


def _seen(typed: Typed, here: AtVisit) -> Seen:
    """Return how the text was understood, and what the gas is."""
    options = typed.options
    found = understand(
        typed.text,
        basis=_one_of(options["basis"], BASES),
        heavier=options["heavier"] or None,
        plus_minus=_one_of(options["plus_minus"], PLUS_MINUS),
        decimal=_one_of(options["decimal"], (("point", ""), ("comma", ""))),
        volume_at=options["volume_at"] if options["volume_at"] in VOLUMES else "",
        sampled=sampled_on(options["sampled"]),
        uncertain=_one_of(options["uncertain"], UNCERTAIN) or "report",
        source=options["laboratory"],
    )
    gas, air = found.composition, 0.0
    if found.refused and not typed.has("leave_refused"):
        gas = None
    if gas is not None and typed.has("without_air"):
        gas, air = without_air(gas)
    if gas is not None and typed.has("scale"):
        gas = gas.normalised()
    whole = gas is not None and abs(gas.total - 1) <= SUM_TOLERANCE
    off = f"{100 * gas.total:.2f} %" if gas is not None and not whole else ""
    properties: tuple[Property, ...] = ()
    if gas is not None:
        properties = summary(gas if whole else gas.normalised(), Reference.named(REFERENCES[here.system]))
    counted = of_composition(gas).says if gas is not None else ()
    return Seen(understood=found, gas=gas, properties=properties, counted=counted, air=air, off=off)


def _one_of(typed: str, known: tuple[tuple[str, str], ...]) -> Any:
    """Return a choice of a list; None for what is not on it."""
    return typed if typed and typed in [value for value, _ in known] else None


def _keep(here: AtVisit, house: Any, typed: Typed, seen: Seen) -> None:
    """Keep an analysis in the column that is being written."""
    assert seen.gas is not None
    options = typed.options
    papers = [Paper(content=typed.text.encode(), filename="gas_analysis.txt")]
    if typed.digest:
        content = house.records.attachment(typed.digest)
        papers = [Paper(content=content, filename=typed.filename, media_type=_media_type(typed.filename)), *papers]
    refused = ", ".join(str(row.number) for row in seen.understood.refused)
    caption = ", ".join(
        part
        for part in (
            f"Gas analysis, read as {seen.understood.basis} shares",
            f"heavier components {options['heavier']}" if options["heavier"] else "",
            "scaled to 100 %" if typed.has("scale") else "",
            f"{100 * seen.air:.3g} % air taken out" if seen.air else "",
            f"left out: line {refused}" if refused else "",
        )
        if part
    )
    take(
        house.records,
        here.view,
        seen.gas,
        traces=seen.understood.traces,
        papers=papers,
        state=here.prefs.column,
        who=here.prefs.who,
        source=source_words(options["laboratory"], options["report"], seen.gas.sampled, here.prefs.who),
        caption=caption,
        correct=typed.has("correct"),
    )


ROUTES = [
    Route("/engines/{engine}/{day}/gas", show_gas),
    Route("/engines/{engine}/{day}/gas", acting(keep_gas), methods=["POST"], max_body_size=PHOTO_LIMIT + 256 * 1024),
    Route("/engines/{engine}/{day}/gas/undo", acting(undo_gas), methods=["POST"]),
]
