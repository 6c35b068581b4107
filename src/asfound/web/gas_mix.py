"""The page on which two sources of gas are mixed: what a new well does, and how much of it may come."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.errors import AsFoundError, InputError
from asfound.fuel.blend import blend
from asfound.fuel.gas_summary import compared, new_well
from asfound.fuel.iso6976 import SUM_TOLERANCE, Reference
from asfound.fuel.splits import stated_splits
from asfound.fuel.understood import understand
from asfound.quantities.parse import parse_amount
from asfound.records.gas_analysis import Paper, kept, take
from asfound.web.forms import acting, text
from asfound.web.frame import at_visit, visit_page
from asfound.web.gas import BASES, LONGEST_TEXT, REFERENCES
from asfound.web.pages import go, house_of

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.fuel.composition import Composition
    from asfound.fuel.gas_summary import Change, NewWell
    from asfound.web.frame import AtVisit

OPTIONS = ("text", "basis", "heavier", "name", "share", "least", "wobbe")


@dataclass(frozen=True, kw_only=True)
class Mixed:
    """What the page shows of two gases."""

    along: NewWell
    limited: bool
    made: Composition | None
    """The mixture at the share that was asked for."""
    changes: tuple[Change, ...]

    @property
    def rows(self) -> tuple[tuple[str, ...], ...]:
        """Share, and what becomes of heating value, Wobbe index, air and methane number."""
        found = self.along
        return tuple(
            (
                f"{100 * share:.0f} %",
                *(_signed(100 * float(found.change(name)[at])) for name in ("volume_gross", "wobbe_gross")),
                _signed(100 * float(found.change("air_demand")[at])),
                f"{found.values['methane_number'][at]:.0f}",
            )
            for at, share in enumerate(found.shares)
        )


def _signed(per_cent: float) -> str:
    return f"{per_cent:+.1f} %".replace("-", "\u2212")


def show_mix(request: Request) -> Response:
    """Show the form for a second source."""
    here = at_visit(request)
    needed = here.view.readings.get("as_found/engine/required_methane_number")
    least = f"{needed.value:g}" if needed is not None and needed.value is not None else ""
    return _page(request, here, dict.fromkeys(OPTIONS, "") | {"least": least, "share": "25"})


def keep_mix(request: Request, form: FormData) -> Response:
    """Show what a second source does; keep the mixture as the gas of the visit when that was asked."""
    here, house = at_visit(request), house_of(request)
    typed = {name: text(form, name)[:LONGEST_TEXT] for name in OPTIONS}
    try:
        now = _now(here)
        coming = _coming(typed)
        mixed = _mixed(now, coming, typed, here)
        if text(form, "do") == "keep":
            if mixed.made is None:
                raise InputError("share", "", "is missing", try_next="Say which mixture is to be kept.")
            _keep(here, house, mixed.made, typed)
            return go(f"{here.base}/fuel")
    except AsFoundError as refused:
        return _page(request, here, typed, complaint=str(refused), status=422)
    return _page(request, here, typed, mixed=mixed)


def _page(
    request: Request,
    here: AtVisit,
    typed: dict[str, str],
    *,
    mixed: Mixed | None = None,
    complaint: str = "",
    status: int = 200,
) -> Response:
    now = kept(here.view, "as_left") or kept(here.view, "as_found")
    return visit_page(
        request,
        "gas_mix.html",
        here,
        step="fuel",
        title="Two sources mixed",
        status=status,
        typed=typed,
        mixed=mixed,
        complaint=complaint,
        now=now,
        bases=BASES,
        splits=(("", "none stated"), *((name, name) for group, name in stated_splits() if group == "hexanes_plus")),
        reference=REFERENCES[here.system],
    )


def _now(here: AtVisit) -> Composition:
    """Return the gas of the visit, scaled to 100 %."""
    found = kept(here.view, "as_left") or kept(here.view, "as_found")
    if found is None:
        raise InputError("gas", "", "has not been read on this visit",
                         try_next="Enter the analysis of the gas that comes now first.")  # fmt: skip
    return found.composition.normalised()


def _coming(typed: dict[str, str]) -> Composition:
    """Return the second gas, scaled to 100 %; raises what stands against it."""
    basis: Any = typed["basis"] if typed["basis"] in ("mole", "volume", "mass") else None
    found = understand(
        typed["text"], basis=basis, heavier=typed["heavier"] or None, source=typed["name"] or "the second source"
    )
    complaint = found.complaint
    if complaint is not None:
        raise complaint
    assert found.composition is not None
    gas = found.composition
    return gas if abs(gas.total - 1) <= SUM_TOLERANCE else gas.normalised()


def _mixed(now: Composition, coming: Composition, typed: dict[str, str], here: AtVisit) -> Mixed:
    """Return what the second source does."""
    least, wobbe = _number(typed["least"], "least"), _number(typed["wobbe"], "wobbe")
    reference = Reference.named(REFERENCES[here.system])
    along = new_well(
        now, coming, reference=reference, least_methane_number=least,
        most_wobbe_change=None if wobbe is None else wobbe / 100,
    )  # fmt: skip
    share = _number(typed["share"], "share")
    made = None if share is None else blend(now, coming, share / 100)
    changes = compared(now, made, reference) if made is not None else ()
    return Mixed(along=along, limited=least is not None or wobbe is not None, made=made, changes=changes)


def _number(typed: str, name: str) -> float | None:
    """Return a plain number; None where nothing is typed."""
    if not typed:
        return None
    return parse_amount(typed.rstrip("% "), quantity="methane_number", field=name, default_unit="1").value


def _keep(here: AtVisit, house: Any, made: Composition, typed: dict[str, str]) -> None:
    """Keep a mixture as the gas of the visit, in the column that is being written."""
    head = f"{made.source}\nThe second source, as it was pasted:\n{typed['text']}\n\nThe mixture, mol %:"
    body = "\n".join(f"{name}\t{100 * x:.6g}" for name, x in made.by_name.items())
    take(
        house.records,
        here.view,
        made,
        papers=[Paper(content=f"{head}\n{body}".encode(), filename="mixture.txt")],
        state=here.prefs.column,
        who=here.prefs.who,
        source=f"mixture: {made.source}"[:400],
        caption=f"Mixture of two sources: {made.source}",
    )


ROUTES = [
    Route("/engines/{engine}/{day}/gas/mix", show_mix),
    Route("/engines/{engine}/{day}/gas/mix", acting(keep_mix), methods=["POST"]),
]
