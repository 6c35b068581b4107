"""What-if above the room: questions with units, numbers moved from what was read, pictures, paper."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest

from asfound.errors import InputError
from asfound.quantities.case_numbers import held
from asfound.records.demo import make_demo_home
from asfound.records.store import Records
from asfound.records.visit import VisitView, view
from asfound.report import svg
from asfound.report.content_whatif import LackingShown, Question, WhatIfShown, answered, whatif_shown
from asfound.report.content_whatif_paper import whatif
from asfound.report.whatif_anchor import anchored
from asfound.report.whatif_fit import FittedEngine, fitted
from asfound.report.whatif_permit import counted
from asfound.report.whatif_question import PARTS, asked_of, gas_named, reach_of
from asfound.whatif.ask import Answer

from .boxes import check, parse, words


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Records]:
    folder = tmp_path_factory.mktemp("whatif") / "demo"
    make_demo_home(folder)
    with Records.open(folder) as opened:
        yield opened


@pytest.fixture(scope="module")
def seen(records: Records) -> VisitView:
    return view(records, "A2/2032-07-08")


@pytest.fixture(scope="module")
def fit(seen: VisitView) -> FittedEngine:
    found = fitted(seen, "as_found")
    assert isinstance(found, FittedEngine)
    return found


def asked(fit: FittedEngine, system: str = "us", **typed: str) -> dict[str, float]:
    found = asked_of(fit, Question(typed=typed), system)  # type: ignore[arg-type]
    assert found.complaints == {}
    return dict(found.targets)


def test_a_value_and_a_change_in_any_unit_mean_the_same(fit: FittedEngine) -> None:
    now = {name: reach_of(fit, part).now for name, part in PARTS.items()}
    assert asked(fit, timing="16.5")["timing"] == pytest.approx(math.radians(16.5))
    assert asked(fit, timing="2 later")["timing"] == pytest.approx(asked(fit, timing="by -2 deg")["timing"])
    assert asked(fit, timing="1 earlier")["timing"] == pytest.approx(now["timing"] + math.radians(1.0))
    assert asked(fit, charge="10 K warmer")["charge"] == pytest.approx(now["charge"] + 10.0)
    assert asked(fit, charge="18 °F warmer")["charge"] == pytest.approx(asked(fit, charge="10 K warmer")["charge"])
    assert asked(fit, charge="60 °C")["charge"] == pytest.approx(asked(fit, charge="140 °F")["charge"])
    assert asked(fit, "si", charge="60")["charge"] == pytest.approx(333.15)
    assert asked(fit, mixture="0.05 leaner")["mixture"] == pytest.approx(now["mixture"] + 0.05)
    assert asked(fit, mixture="0.02 richer")["mixture"] == pytest.approx(now["mixture"] - 0.02)
    assert asked(fit, power="80 %")["power"] == pytest.approx(0.8 * now["power"])
    assert asked(fit, power="20 % less")["power"] == pytest.approx(0.8 * now["power"])


def test_units_do_not_change_the_answer(seen: VisitView) -> None:
    us, si = (whatif_shown(seen, "as_found", Question(typed={"charge": "60 °C"}), one) for one in ("us", "si"))  # type: ignore[arg-type]
    assert isinstance(us, WhatIfShown)
    assert isinstance(si, WhatIfShown)
    assert us.headline == si.headline
    assert us.permit[0].chance_then == si.permit[0].chance_then


@pytest.mark.parametrize(
    ("name", "text"),
    [("timing", "60"), ("mixture", "3"), ("charge", "20 bar"), ("power", "200 %"), ("humidity", "-1"), ("timing", "x"),
     ("timing", "by two"), ("gas", "town gas"), ("gas", "methane 20 %")],
)  # fmt: skip
def test_what_cannot_be_asked_is_a_complaint_of_its_field(fit: FittedEngine, name: str, text: str) -> None:
    found = asked_of(fit, Question(typed={name: text}), "us")
    assert set(found.complaints) == {name}
    assert not found.targets


def test_the_ends_of_the_range_themselves_are_answered(fit: FittedEngine) -> None:
    for name, part in PARTS.items():
        reach = reach_of(fit, part)
        assert reach.low < reach.now < reach.high, name


def test_a_share_of_methane_keeps_the_whole_and_the_proportions_of_the_rest() -> None:
    gas = {"methane": 0.9, "ethane": 0.06, "nitrogen": 0.04}
    other = gas_named("methane 80 %", gas, {})
    assert other is not None
    assert sum(other.values()) == pytest.approx(1.0)
    assert other["ethane"] / other["nitrogen"] == pytest.approx(1.5)
    assert gas_named("this", gas, {}) is None
    with pytest.raises(InputError):
        gas_named("some gas", gas, {})


def test_what_is_proposed_starts_from_what_was_read(seen: VisitView, fit: FittedEngine) -> None:
    now, then = counted(fit.engine, fit.engine.outcome, "nox_mass_per_energy", None)  # type: ignore[arg-type]
    first, same = anchored(seen, "as_found", "nox_mass_per_energy", now, then)
    number = held(seen.worked, "as_found", "stack", "nox_mass_per_energy")
    assert number is not None
    assert np.median(first) == pytest.approx(number.value, rel=0.01)
    np.testing.assert_allclose(first, same)


def test_the_same_readings_are_fitted_once(seen: VisitView, fit: FittedEngine) -> None:
    assert fitted(seen, "as_found") is fit


def test_a_state_that_lacks_readings_says_which_and_where(records: Records) -> None:
    shown = whatif_shown(view(records, "A3/2032-06-28"), "as_found", Question(), "si")
    assert isinstance(shown, LackingShown)
    assert [one.title for one in shown.readings] == ["Oxygen, dry", "Ignition timing"]
    assert [one.step for one in shown.readings] == ["exhaust", "load"]
    assert shown.then == "With them usual values can stand for the gas and intake manifold temperature."


def test_one_or_two_parts_that_nobody_read_are_assumed_and_ranked_by_what_they_would_narrow(records: Records) -> None:
    shown = whatif_shown(view(records, "D2/2032-06-21"), "as_found", Question(typed={"mixture": "0.02 leaner"}), "si")
    assert isinstance(shown, WhatIfShown)
    assert any("Ignition timing 20 deg, give or take 5 deg" in one for one in shown.assumed)
    assert any(one.startswith("Usual values stand for ignition timing and intake") for one in shown.says)
    assert {"Ignition timing", "Intake manifold temperature"} <= {one.says.partition(":")[0] for one in shown.worth}
    assert {one.name for one in shown.parts if one.assumed} == {"timing", "charge"}


def test_of_another_gas_it_is_said_what_the_mixer_left_alone_would_do(records: Records) -> None:
    asked = Question(typed={"gas": "methane 95 %"})
    shown = whatif_shown(view(records, "D1/2032-06-20"), "as_found", asked, "si")
    assert isinstance(shown, WhatIfShown)
    said = next(one for one in shown.says if "mixer" in one)
    assert "about lambda 0.77: too rich" in said
    assert "low load" in said


def test_near_lambda_1_carbon_monoxide_is_told_and_the_catalyst_is_thought_of(records: Records) -> None:
    shown = whatif_shown(view(records, "N1/2032-02-12"), "as_found", Question(typed={"mixture": "0.955"}), "si")
    assert isinstance(shown, WhatIfShown)
    row = next(one for one in shown.rows if one.name == "co_dry")
    assert row.change is not None
    assert row.change.value.startswith("+")
    assert "NOx before the catalyst" in shown.headline
    assert any("ammonia" in one and "gas detector" in one for one in shown.says)
    assert any("sensor" in one and "set point" in one for one in shown.says)
    assert shown.knock.methane_number == "not known: nobody analysed it"
    assert shown.permit == ()


@pytest.mark.parametrize("paper", [False, True])
@pytest.mark.parametrize("width", [350, 680, 900])
def test_pictures_keep_their_texts_inside_and_apart(seen: VisitView, width: int, paper: bool) -> None:
    shown = whatif_shown(seen, "as_found", Question(typed={"mixture": "1.74"}), "us")
    assert isinstance(shown, WhatIfShown)
    for draw, given in ((svg.whatif_cycle, shown.cycle), (svg.whatif_map, shown.map), (svg.whatif_field, shown.field)):
        markup = draw(**given, width=width, paper=paper)
        assert parse(markup).attrib["role"] == "img"
        assert markup == draw(**given, width=width, paper=paper)
        assert "nan" not in markup.lower().replace("finan", "")
        check(markup)
    assert "proposed" in [one.text for one in words(svg.whatif_cycle(**shown.cycle, width=width))]


def test_paper_has_the_section_only_where_something_is_proposed(records: Records, seen: VisitView) -> None:
    assert whatif(view(records, "A1/2032-05-03"), "us") is None
    found = whatif(seen, "us")
    assert found is not None
    one = found["proposed"][0]
    assert one["words"] == "Mixture, lambda 1.74"
    assert one["state"] == "as left"
    assert one["answer"]["headline"].startswith("NOx falls by")
    assert {row["title"] for row in one["answer"]["rows"]} >= {"Power", "NOx per energy", "Peak pressure"}
    assert "decide" in found["decides"]


def test_an_engine_that_breathes_by_itself_has_its_throttle_wide_open_before_more_than_the_air_has():
    from types import SimpleNamespace

    from asfound.report.content_whatif import wide_open

    fit = SimpleNamespace(charger=None, modelled=SimpleNamespace(inlet_pressure=98e3))
    for pressure, said in ((90e3, 0), (101e3, 1)):
        answer = SimpleNamespace(setting=SimpleNamespace(manifold_pressure=np.full(40, pressure)))
        assert len(wide_open(fit, answer)) == said
    assert wide_open(SimpleNamespace(charger=object()), answer) == ()


def test_air_outside_goes_through_turbocharger_and_cooler(fit: FittedEngine) -> None:
    """At 80 % alone the charge is a little colder than read, at 40 °C hotter, and then more NOx is made."""
    assert fit.cooler is not None
    read = np.median(fit.engine.settings[0].charge_temperature)

    def answer(**typed: str) -> Answer:
        found, refused = answered(fit, asked_of(fit, Question(typed=typed), "si"))
        assert refused == ()
        assert found is not None
        return found

    alone, hot = answer(power="80 %"), answer(power="80 %", air="40 °C")
    assert read - 5.0 < np.median(alone.setting.charge_temperature) < read
    assert read + 3.0 < np.median(hot.setting.charge_temperature) < read + 20.0
    assert hot.number("nox_dry").share[1] > alone.number("nox_dry").share[1]
    assert answer(air="40 °C", charge="by 0.01 K").setting.charge_temperature == pytest.approx(
        np.asarray(fit.engine.settings[0].charge_temperature) + 0.01
    )


def test_air_outside_beyond_what_may_be_asked_is_refused(fit: FittedEngine) -> None:
    found = asked_of(fit, Question(typed={"air": "160 °F"}), "us")
    assert "beyond what the model may be asked" in found.complaints["air"]
