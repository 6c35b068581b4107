"""`asfound what-if`: what a change of the setting would do, by a model fitted to the readings of a visit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from asfound.cli.answer import answer, coloured, columns, wrapped
from asfound.cli.crosscheck import _state
from asfound.cli.find import opened, view_of, writer
from asfound.cli.options import Hand
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from asfound.records.store import Records
    from asfound.records.visit import VisitView
    from asfound.report.content_whatif import LackingShown, WhatIfShown
    from asfound.report.whatif_question import Question


def what_if(
    visit: str,
    state: str = "as_found",
    /,
    *,
    timing: str = "",
    mixture: str = "",
    charge: str = "",
    air: str = "",
    humidity: str = "",
    power: str = "",
    gas: str = "",
    to: str = "",
    map: bool = False,
    fit: str = "",
    rates: str = "",
    most_exhaust: str = "",
    most_peak: str = "",
    most_knock: str = "",
    keep: bool = False,
    why: str = "",
    hand: Hand = Hand(),
) -> None:
    """Ask the fitted model of an engine what a change of its setting would do. It moves nothing.

    asfound what-if A2 --mixture 1.74

    asfound what-if A2 as_left --timing '2 later' --charge '10 K warmer' --power '80 %'

    asfound what-if A2 --power '80 %' --air '104 °F'

    asfound what-if A2 --to 'nox 70 %'

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    state
        as_found or as_left: where the question starts.
    timing
        Spark before top dead centre: 16.5 deg, or '2 later', '1 earlier'.
    mixture
        Lambda: 1.74, or '0.05 leaner', '0.02 richer'.
    charge
        Temperature of the charge air: '130 °F', or '10 K warmer'.
    air
        Temperature of the air outside: '40 °C', or '10 K warmer'; the charge air follows by its cooler.
    humidity
        Water in the charge air: '12 g/kg'.
    power
        '1400 hp', or '80 %' of what it is; held as read where nothing is said.
    gas
        Another analysis by its visit (A1/2032-05-03), or 'methane 92 %'.
    to
        Trace a wanted change back: 'nox 70 %', 'exhaust 950 °F', 'efficiency 38 %', 'peak 90 %', 'knock 80 %'.
    map
        The map of timing and mixture with NOx, and the most efficient setting within the limits.
    fit
        What the model is fitted to: both states of the visit (both), this one (alone), or both and the visit before
        (all).
    rates
        Published rates of NO: bowman_1975 or hanson_salimian_1984.
    most_exhaust
        With --map: exhaust temperature at the ports that the most efficient setting must keep: '1050 °F'.
    most_peak
        The same for the peak pressure: '2000 psia'.
    most_knock
        The same for nearness to knock, as a ratio to now: 1.05.
    keep
        Keep the question as proposed: the report shows it beside as found and as left.
    why
        Why it is proposed.
    """
    from asfound.report.content_whatif import whatif_shown
    from asfound.report.content_whatif_data import whatif_data
    from asfound.report.whatif_gases import gases_on_record
    from asfound.report.whatif_question import Question

    records = opened(hand)
    seen, asked = view_of(records, visit), _state(state)
    typed = {
        "timing": timing,
        "mixture": mixture,
        "charge": charge,
        "air": air,
        "humidity": humidity,
        "power": power,
        "gas": gas,
    }
    typed |= {"fit": fit, "rates": rates, "most_exhaust": most_exhaust, "most_peak": most_peak,
              "most_knock": most_knock}  # fmt: skip
    question = Question(typed={name: text for name, text in typed.items() if text})
    gases = {one.name: one.shares for one in gases_on_record(records, seen)} if gas else {}
    signs: dict[str, Literal[".", ","]] = {".": ".", ",": ","}
    decimal = signs.get(records.settings.typed_decimal)
    data = whatif_data(seen, asked, question, seen.system, gases=gases, decimal=decimal, whole=map, wanted=to)
    shown = whatif_shown(seen, asked, question, seen.system, gases=gases, decimal=decimal)
    if keep:
        _keep(records, seen, shown, question, hand, why)
    answer(hand, data, lambda: [*_told(seen, shown), *_more(seen, shown, data, whole=map)])


def _keep(
    records: Records,
    seen: VisitView,
    shown: WhatIfShown | LackingShown,
    question: Question,
    hand: Hand,
    why: str,
) -> None:
    from asfound.report.content_whatif import WhatIfShown
    from asfound.report.whatif_proposed import KIND, content_of

    if not isinstance(shown, WhatIfShown) or not shown.answered:
        raise InputError("keep", "", "needs a question that the model can answer",
                         try_next="Say what is changed: --mixture 1.74.")  # fmt: skip
    time = records.clock.now().astimezone().isoformat(timespec="seconds")
    content = content_of(shown.asked, shown.state, question.of("gas"), system=seen.system, why=why, time=time)
    records.append(KIND, content, visit=seen.id, who=writer(hand, records))


def _told(seen: VisitView, shown: WhatIfShown | LackingShown) -> Iterator[str]:
    from asfound.report.content_whatif import LackingShown

    head = f"{seen.visit.name}, {shown.state.replace('_', ' ')}"
    if isinstance(shown, LackingShown):
        yield coloured(f"{head}: the model cannot be fitted yet.", "head")
        for one in shown.readings:
            yield from wrapped(f"missing: {one.title} (asfound take {seen.visit.name} ...)", "  ")
        for said in (shown.then, *shown.says):
            yield from wrapped(said, "  ") if said else ()
        if shown.other:
            yield from wrapped(f"It can be asked {shown.other.replace('_', ' ')}: asfound what-if "
                               f"{seen.visit.name} {shown.other}", "  ")  # fmt: skip
        return
    yield coloured(f"{head}: {shown.headline}", "head")
    for said in (shown.asked_words, shown.below, *shown.says, *shown.misfits):
        yield from wrapped(said) if said else ()
    yield ""
    rows = []
    for row in shown.rows:
        cells = [row.cells[name] for name in ("as_found", "as_left", "proposed")]
        texts = [f"{one.said.value}{'' if one.read or at == 2 else ' (model)'}" if one else ""
                for at, one in enumerate(cells)]  # fmt: skip
        rows.append((row.title, row.unit, *texts, cells[2].said.interval if cells[2] else "",
                     row.change.whole if row.change else ""))  # fmt: skip
    heads = ("number", "unit", "as found", "as left", "proposed", "95 in 100", "change by the model")
    yield from columns(rows, heads, right=(2, 3, 4))
    yield ""
    for line in shown.permit:
        now = f"{line.title} {line.limit}: {shown.state_words} {line.now}, {line.chance_now} to be beyond it"
        yield from wrapped(f"{now}; as proposed {line.then}, {line.chance_then}." if line.then else f"{now}.")
    for said in shown.permit_says:
        yield from wrapped(said)
    yield from wrapped(f"{shown.knock.says} Methane number of the gas {shown.knock.methane_number}"
                       + (f"; the build needs {shown.knock.needs}." if shown.knock.needs else "."))  # fmt: skip
    yield from wrapped(f"Fitted to what was read {', and '.join(shown.fitted_to)}.")
    for said in shown.assumed:
        yield from wrapped(said)
    for worth in shown.worth:
        yield from wrapped(f"One more reading. {worth.says}")


def _more(
    seen: VisitView, shown: WhatIfShown | LackingShown, data: Mapping[str, object], *, whole: bool
) -> Iterator[str]:
    from asfound.report.content_whatif import LackingShown
    from asfound.report.content_whatif_words import CANNOT, DECIDES

    del seen
    if isinstance(shown, LackingShown):
        return
    yield ""
    heads = ("small change, power held", *shown.heads)
    yield from columns([(one.title, *(cell.value for cell in one.cells)) for one in shown.sensitivities], heads)
    ways = data.get("ways")
    if isinstance(ways, list):
        yield ""
        yield coloured("Wanted change, traced back", "head")
        for one in ways:
            changes = "; ".join(f"{name} {said}" for name, said in one["changes"].items())
            reached = "" if one["reached"] else " (does not get there)"
            yield from wrapped(f"{one['part']} to {one['then']}{reached}: {changes}", "  ")
    if whole:
        yield ""
        yield from _map(data["map"])
        yield from wrapped(shown.map_says)
        if shown.most_refused:
            yield from wrapped(shown.most_refused)
    yield ""
    for said in (*CANNOT[:2], DECIDES):
        yield from wrapped(said)


def _map(found: object) -> Iterator[str]:
    """Write NOx of the model by timing and mixture."""
    import math

    assert isinstance(found, dict)
    heads = ("spark, deg", *(f"{one:.2f}" for one in found["excess_air_ratio"]))
    rows = [
        (f"{math.degrees(timing):.1f}", *(f"{1e6 * one:.0f}" for one in row))
        for timing, row in zip(found["timing_before_top_dead_centre"], found["nox_dry"], strict=True)
    ]
    yield coloured("NOx of the model, ppm dry, by spark and lambda, power held", "head")
    yield from columns(rows, heads, right=tuple(range(1, len(heads))))
