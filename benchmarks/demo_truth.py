"""What the program concludes on the visits of the demo beside what is true of its engines, room by room.

    python -m benchmarks demo_truth                prints the table
    python -m benchmarks.demo_truth --write        puts it into docs/demo_truth.md

Not a race. The truth is `stories/*.yaml`, the comments of the demo's visits and the scenario behind them; the logs have
a table of their own (`history_demo`).
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.identify import identify
from asfound.fitout.observations import story
from asfound.quantities.display import chance
from asfound.records.demo import LAST_DAY, make_demo_home
from asfound.records.store import Records
from asfound.records.visit import VisitView, view
from asfound.troubleshoot.of_case import of_case

PAGE = Path(__file__).parent.parent / "docs" / "demo_truth.md"
BEGIN, END = "<!-- table begins -->", "<!-- table ends -->"
G_PER_HP_H = 1e-3 / (745.6998715822702 * 3600)
"""kg/J in a g/hp-h; NIST SP 811 Appendix B.8."""
MG = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One thing that is true, and what the program says of it."""

    visit: str
    truth: str
    says: str
    met: bool


Says = Callable[[VisitView], tuple[str, bool]]


def build(name: str, least: float) -> Says:
    """What is fitted: the true build leads."""

    def says(seen: VisitView) -> tuple[str, bool]:
        assert seen.identification is not None
        lead = seen.identification.builds[0]
        return f"{lead.title}, {chance(lead.probability)}", lead.name == name and lead.probability >= least

    return says


def finding(code: str, *words: str) -> Says:
    """A finding of this code is there, with these words."""

    def says(seen: VisitView) -> tuple[str, bool]:
        there = [one for one in seen.findings if one.code == code]
        right = [one for one in there if all(word in one.says for word in words)]
        shown = right or there
        return (f"{code}: {shown[0].says}" if shown else f"no {code}"), bool(right)

    return says


def cause(name: str, least: float = 0.5) -> Says:
    """What is wrong: the true cause leads by symptoms and tests alone, before any repair proved it."""

    def says(seen: VisitView) -> tuple[str, bool]:
        told = seen.case.visit["trouble"]
        tests = replace(told, said=tuple(one for one in told.said if not one.about.startswith("r_")), closed=None)
        lead = of_case(replace(seen.case, visit={**seen.case.visit, "trouble": tests})).causes[0]
        return f"{lead.title}, {chance(lead.p)}", lead.id == name and lead.p >= least

    return says


def number(key: str, scale: float, unit: str, truth: float, within: float) -> Says:
    """A result lies where the truth is."""

    def says(seen: VisitView) -> tuple[str, bool]:
        found = seen.worked.result(key)
        if found is None:
            return "not worked out", False
        value = found.value / scale
        return f"{value:.3g} {unit}".strip(), abs(value - truth) <= within

    return says


def open_looks(name: str, looks: int, least: float) -> tuple[str, bool]:
    """Return what is believed after the first looks of a story at parts, in the order in which they were made."""
    said = story(name)
    parts = [one for one in said.looks if one.slot not in ("nameplate", "block", "word")][:looks]
    plate = [one for one in said.looks if one.slot == "nameplate"]
    lead = identify(load_catalogue(), said.engine, [*plate, *parts]).builds[0]
    return f"{lead.title}, {chance(lead.probability)}", bool(
        said.truth and lead.name == said.truth["build"] and lead.probability >= least
    )


A1, A2, A3 = ("A1/2032-05-03", "A1/2032-08-17"), ("A2/2032-07-08",), ("A3/2032-03-15", "A3/2032-09-19")
N1, N2 = ("N1/2032-02-12", "N1/2032-11-05"), ("N2/2032-02-12", "N2/2033-01-20")
D1, D2 = ("D1/2032-06-20", "D1/2033-03-02"), ("D2/2032-06-21", "D2/2033-03-03")

TABLE: tuple[tuple[str, str, Says], ...] = (
    (A1[0], "a Bramquell host with the Yarnolt set", build("bramquell+yarnolt", 0.9)),
    (A1[0], "half converted; the plate was never changed", finding("FT-05", "Part-converted")),
    (A1[0], "borrowed late strip and text unit do not talk", finding("FT-07", "cannot talk")),
    (A1[1], "the same build, three months later, nobody having looked again", build("bramquell+yarnolt", 0.9)),
    (A1[1], "the gas is another: the new well", finding("FU-09", "gas has changed")),
    (A1[1], "methane number too low for the head set of WY 46", finding("FU-01", "below what the build needs")),
    (A1[1], "the load is too high on this gas", finding("PW-10", "over the usual overload")),
    (A1[1], "as left the load is within the rating", finding("PW-12", "within the site rating")),
    (A1[1], "knock comes from the heavier gas", cause("c_gas_heavy")),
    (A2[0], "a plain Moldrevane", build("moldrevane", 0.95)),
    (A2[0], "the plate says Moldrevane-D", finding("FT-01", "Moldrevane-D")),
    (A2[0], "the plate is another engine's: 20388 is 20461", finding("FT-02", "20388", "20461")),
    (A2[0], "the store's harness is for the other generation", finding("FT-09", "D harness")),
    (A2[0], "a paper of the wrong branch in the cupboard", finding("FT-10", "MV-e")),
    (A2[0], "lambda 1.66 as found", number("as_found/stack/excess_air_ratio", 1, "", 1.66, 0.01)),
    (A2[0], "lambda 1.72 as left", number("as_left/stack/excess_air_ratio", 1, "", 1.72, 0.01)),
    (A2[0], "NOx 0.95 g/hp-h as found", number("as_found/stack/nox_mass_per_energy", G_PER_HP_H, "g/hp-h", 0.95, 0.02)),
    (A2[0], "NOx 0.55 g/hp-h as left", number("as_left/stack/nox_mass_per_energy", G_PER_HP_H, "g/hp-h", 0.55, 0.02)),
    (A2[0], "its oxygen sensor reads 0.4 % high", finding("CC-14", "0.4 vol-% above")),
    (A3[0], "three strips where four belong", finding("FT-03", "3 were seen")),
    (A3[0], "the display's L4 reads cold; it is the sensor", finding("CY-31", "L4", "sensor, not the cylinder")),
    (A3[0], "the thermocouple that was changed was sound", finding("CY-05", "still reads cold after the work")),
    (A3[1], "the strip counts backwards: 'turned' is not set", finding("FT-08", "backwards")),
    (A3[1], "this time it is the cylinder", finding("CY-30", "L4", "The cylinder")),
    (A3[1], "the coil", cause("c_coil")),
    (N1[0], "a Tisenorra cabinet, mixture by a Vorunice-short", build("tisenorra", 0.9)),
    (N1[0], "the second controller stands in no paper", finding("FT-06", "Vorunice-short")),
    (N1[1], "the load swings, not the governor", cause("c_load_swing")),
    (N2[0], "a Pellimark PK, as said", build("pellimark_pk", 0.9)),
    (N2[0], "the operator's number 1 is the builder's 9", finding("CY-01", "the builder's 9")),
    (N2[0], "3 and 7 are type K wire on type N inputs", finding("CY-02", "3 (the site's 7) and 7", "type K")),
    (N2[0], "a rail coil of the other builder was forced in", finding("FT-07", "Tisenorra rail coil")),
    (N2[0], "the store holds the wrong spare", finding("FT-09", "Tisenorra rail coil")),
    (N2[1], "two causes at once: thermocouples of another alloy, and a fouled radiator", cause("other")),
    (D1[1], "a Vorunice, as said", build("vorunice", 0.9)),
    (D1[1], "CO conversion 88 to 61 %", finding("EX-40", "61.0 %")),
    (D1[1], "the oil turns sour", finding("UK-06", "Acid number")),
    (D1[1], "sulphide of 0.09 %", finding("FU-16", "900 ppm")),
    (D1[1], "the gas cleaning lets through", cause("c_gas_contam")),
    (D2[0], "controls in no catalogue", build("other", 0.9)),
    (D2[1], "still in no catalogue, the engine known", finding("FT-04", "not in the catalogue")),
    (D2[1], "NOx 490 to 505 mg/m3 beside a permit of 500", finding("EX-02", "too close to the permit")),
    (D2[1], "the NOx probe reads 12 % low (it shows dry gas)", finding("EX-50", "12 % low")),
    (D2[1], "the aged probe is the cause", cause("c_nox_drift")),
)  # fmt: skip


def rows() -> Iterator[Row]:
    """Yield each truth with what the program says, from a whole demo home."""
    says, met = open_looks("a1", 5, 0.9)
    yield Row(visit=A1[0], truth="the same after five looks that need no stop", says=says, met=met)
    with tempfile.TemporaryDirectory() as folder:
        home = make_demo_home(Path(folder) / "home", until=LAST_DAY)
        with Records.open(home.folder) as records:
            seen = {name: view(records, records.visit(name).id) for name in dict.fromkeys(one for one, _, _ in TABLE)}
            for visit, truth, check in TABLE:
                said, right = check(seen[visit])
                yield Row(visit=visit, truth=truth, says=said, met=right)


def table(found: list[Row]) -> str:
    """Return the rows as Markdown."""
    lines = ["| visit | what is true | what the program says | |", "| --- | --- | --- | --- |"]
    for one in found:
        said = one.says if len(one.says) <= 170 else one.says[:167].rsplit(" ", 1)[0] + " ..."
        lines.append(
            f"| {one.visit} | {one.truth} | {said.replace('|', '/')} | {'met' if one.met else '**not met**'} |"
        )
    met = sum(one.met for one in found)
    return "\n".join([*lines, "", f"{met} of {len(found)} met."])


def main() -> None:
    said = table(list(rows()))
    if "--write" in sys.argv:
        text = PAGE.read_text(encoding="utf-8")
        before, after = text.split(BEGIN)[0], text.split(END)[1]
        PAGE.write_text(f"{before}{BEGIN}\n{said}\n{END}{after}", encoding="utf-8")
    else:
        print(said)


if __name__ == "__main__":
    main()
