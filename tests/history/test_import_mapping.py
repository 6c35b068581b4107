"""What columns are: proposed with reasons, in the languages of panels; and units that change under one head."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import AmbiguousError, InputError, KnowledgeError
from asfound.history.clocks import ClockCorrection, ClockPiece
from asfound.history.column_words import spoken
from asfound.history.log_form import Column
from asfound.history.mapping import ColumnIs, Mapping, UnitFrom, moment_of, moment_text, scale_of
from asfound.history.mapping_proposal import TAKEN_FROM, assign, candidates
from asfound.history.proposing import propose
from asfound.history.unit_changes import unit_changes, with_changes
from asfound.quantities.register import quantities

MINUTE = 60_000_000
EMPTY = np.empty(0)


@pytest.mark.parametrize(
    ("head", "unit", "level", "quantity", "place"),
    [
        ("Speed", "rpm", 900, "engine_speed", "engine"),
        ("Motordrehzahl", "1/min", 1000, "engine_speed", "engine"),
        ("Vitesse moteur", "rpm", 1000, "engine_speed", "engine"),
        ("Leistung", "kW", 700, "engine_power", "engine"),
        ("Potencia motor", "kW", 700, "engine_power", "engine"),
        ("T_Abgas_Zyl3", "°C", 480, "cylinder_exhaust_temperature", "cylinder_3"),
        ("Exh temp cyl 5", "degF", 900, "cylinder_exhaust_temperature", "cylinder_5"),
        ("Abgastemperatur Zylinder 12", "°C", 480, "cylinder_exhaust_temperature", "cylinder_12"),
        ("Temp. échappement cyl. 2", "°C", 480, "cylinder_exhaust_temperature", "cylinder_2"),
        ("EGT L4", "degF", 900, "cylinder_exhaust_temperature", "cylinder_L4"),
        ("Öldruck", "bar", 4.2, "oil_pressure", "engine"),
        ("Oil press", "psig", 60, "oil_pressure", "engine"),
        ("Presión de aceite", "bar", 4.2, "oil_pressure", "engine"),
        ("Pression huile", "bar", 4.2, "oil_pressure", "engine"),
        ("Lube oil temperature", "°C", 80, "oil_temperature", "engine"),
        ("MAP left bank", "psia", 40, "manifold_pressure", "left_bank"),
        ("Ladedruck", "bar(abs)", 2.4, "manifold_pressure", "engine"),
        ("JW temp out", "degF", 180, "jacket_water_outlet_temperature", "engine"),
        ("Kühlwassertemperatur", "°C", 85, "jacket_water_outlet_temperature", "engine"),
        ("Bearing temp 4", "°C", 85, "bearing_temperature", "bearing_4"),
        ("Hauptlager 2", "°C", 85, "bearing_temperature", "bearing_2"),
        ("Betriebsstunden", "h", 41000, "engine_hours", "engine"),
        ("Run hours", "h", 41000, "engine_hours", "engine"),
        ("Ambient temp", "degF", 70, "ambient_temperature", "site"),
        ("Throttle", "%", 60, "throttle_position", "engine"),
        ("Wastegate pos", "%", 30, "wastegate_position", "engine"),
        ("Suction press stage 1", "psig", 60, "suction_pressure", "stage_1"),
        ("Crankcase pressure", "inH2O", 0.5, "crankcase_pressure", "engine"),
        ("Cat inlet temp", "degF", 850, "catalyst_inlet_temperature", "engine"),
        ("Frequenz", "Hz", 50, "generator_frequency", "generator"),
        ("Ignition timing", "deg", 18, "ignition_timing", "engine"),
    ],
)
def test_a_head_is_understood(head, unit, level, quantity, place):
    values = level * (1 + 0.01 * np.sin(np.arange(200)))
    best = candidates(Column(head=head, unit=unit), values)[0]
    assert (best.column.quantity, best.column.place) == (quantity, place), best
    assert best.column.score >= TAKEN_FROM
    assert len(best.column.why) >= 3


def test_every_quantity_of_the_register_is_found_by_its_own_title():
    lost = []
    for name, one in quantities().items():
        unit = one.si_display if not one.gauge_possible else f"{one.si_display} abs"
        found = candidates(Column(head=one.title, unit=unit), EMPTY, most=40)
        if name not in {each.column.quantity for each in found}:
            lost.append(name)
    assert lost == []


def test_nonsense_is_left_raw():
    assert candidates(Column(head="XQ17", unit="kW"), EMPTY) == ()
    columns, _ = assign([Column(head="XQ17"), Column(head="Speed", unit="rpm")], {"Speed": np.full(9, 900.0)})
    assert [one.channel for one in columns] == ["raw:XQ17@engine", "engine_speed@engine"]


def test_values_decide_where_words_do_not():
    hot = candidates(Column(head="Oil temp", unit="°C"), np.full(50, 80.0))[0]
    odd = candidates(Column(head="Oil temp", unit="°C"), np.full(50, 900.0))[0]
    assert odd.column.score < hot.column.score - 0.2
    assert any("none of its values" in reason for reason in odd.column.why)


def test_a_pressure_that_can_be_gauge_or_absolute_is_asked():
    best = candidates(Column(head="Manifold pressure", unit="bar"), np.full(50, 1.4))[0]
    assert best.asks == "can be gauge or absolute"
    assert set(best.choices) == {"bar g", "bar abs"}


def test_one_channel_is_given_once():
    columns = [Column(head="Oil pressure", unit="psig"), Column(head="Oil pressure 2", unit="psig"),
               Column(head="Oil press.", unit="psig")]  # fmt: skip
    found, _ = assign(columns, {one.head: np.full(50, 60.0) for one in columns})
    channels = [one.channel for one in found]
    assert len(set(channels)) == len(channels)


@given(st.text(max_size=60))
def test_any_head_is_spoken(head):
    spoken(head)
    candidates(Column(head=head or "x", unit="°C"), EMPTY)


def test_a_mapping_goes_through_its_file(tmp_path):
    mapping = Mapping(
        source="A1 panel", barometer=85_000.0,
        columns=(ColumnIs(head="Oil press", unit="psig", quantity="oil_pressure", score=0.9, why=("words",),
                          changes=(UnitFrom(at=moment_of("2032-05-04T00:00:00Z"), unit="bar g"),)),
                 ColumnIs(head="Note")),
        clock=ClockCorrection((ClockPiece(add=-4320.0, why="fast"),)),
    )  # fmt: skip
    mapping.save(tmp_path / "m.yaml")
    assert Mapping.load(tmp_path / "m.yaml") == mapping
    text = (tmp_path / "m.yaml").read_text()
    assert "2032-05-04T00:00:00Z" in text
    (tmp_path / "m.yaml").write_text("columns: [")
    with pytest.raises(KnowledgeError):
        Mapping.load(tmp_path / "m.yaml")
    with pytest.raises(InputError, match="is no place"):
        Mapping(columns=(ColumnIs(head="a", quantity="oil_pressure", unit="bar", place="on top"),)).check()
    with pytest.raises(InputError, match="also the channel"):
        Mapping(columns=(ColumnIs(head="a", quantity="oil_pressure", unit="bar"),
                         ColumnIs(head="b", quantity="oil_pressure", unit="bar"))).check()  # fmt: skip


def test_gauge_pressures_are_counted_from_the_barometer():
    scale, zero = scale_of("manifold_pressure", "psig", 85_000.0)
    assert zero == 85_000.0
    assert scale == pytest.approx(6894.757293168)
    with pytest.raises(AmbiguousError):
        scale_of("manifold_pressure", "psi", 85_000.0)


@given(st.integers(0, 4_000_000_000_000_000))
def test_moments(at):
    assert moment_of(moment_text(at)) == at


# --- units that change

CASES = [
    ("oil_pressure", "psi", "bar", 62.0, 1.0), ("manifold_temperature", "°F", "°C", 140.0, 4.0),
    ("manifold_pressure", "psig", "bar g", 24.0, 0.6), ("jacket_water_outlet_temperature", "°F", "°C", 182.0, 1.5),
    ("barometric_pressure", "inHg", "kPa", 25.1, 0.1), ("fuel_pressure", "psig", "bar g", 40.0, 0.5),
]  # fmt: skip


@pytest.mark.parametrize(("name", "before", "after", "level", "scatter"), CASES)
@pytest.mark.parametrize("split", [0.2, 0.5, 0.8])
def test_a_change_of_unit_is_found_to_the_row(name, before, after, level, scatter, split):
    draw = np.random.default_rng(8)
    count = 4000
    time = np.arange(count, dtype=np.int64) * 10 * MINUTE
    told = level + scatter * (np.sin(np.arange(count) / 40) + 0.3 * draw.normal(size=count))
    (a, b), (c, d) = scale_of(name, before, 85_000.0), scale_of(name, after, 85_000.0)
    row = int(split * count)
    written = np.where(np.arange(count) < row, told, (told * a + b - d) / c)
    column = ColumnIs(head="x", unit=before, quantity=name)
    found = unit_changes(time, written, column, barometer=85_000.0)
    assert [one.unit for one in found] == [after]
    assert abs(found[0].row - row) <= 1
    mapping = Mapping(columns=(with_changes(column, found),), barometer=85_000.0)
    si = mapping.channels(time, {"x": written}, {}).values[f"{name}@engine"]
    np.testing.assert_allclose(si[5:-5], (told * a + b)[5:-5], rtol=2e-2 if abs(found[0].row - row) else 1e-9)


def test_load_that_changes_is_no_change_of_unit():
    draw = np.random.default_rng(9)
    time = np.arange(4000, dtype=np.int64) * 10 * MINUTE
    on_load = np.where(np.arange(4000) // 300 % 2, 40.0, 22.0) + draw.normal(0, 0.5, 4000)
    for name, unit in (("manifold_pressure", "psia"), ("oil_pressure", "psi"), ("manifold_temperature", "°F")):
        assert unit_changes(time, on_load, ColumnIs(head="x", unit=unit, quantity=name)) == ()
    step = np.where(np.arange(4000) < 2000, 40.0, 31.0) + draw.normal(0, 0.5, 4000)
    assert unit_changes(time, step, ColumnIs(head="x", unit="psia", quantity="manifold_pressure")) == ()


def test_a_change_of_unit_in_a_long_file_is_proposed_with_its_row(tmp_path):
    """Longer than the sample: the row is found by a second look."""
    draw = np.random.default_rng(3)
    count, row = 150_000, 90_001
    psi = 60 + np.round(draw.normal(0, 1, count), 2)
    power = 700 + np.round(50 * np.sin(np.arange(count) / 500), 1)
    oil = np.where(np.arange(count) < row, psi, np.round(psi * 0.0689476, 3))
    times = np.datetime_as_string(np.datetime64("2031-01-01T00:00") + np.arange(count).astype("timedelta64[m]"))
    lines = [f"{t},{p},{o}" for t, p, o in zip(times, power, oil, strict=True)]
    (tmp_path / "a.csv").write_text("Time,Power [kW],Oil press [psi]\n" + "\n".join(lines) + "\n")
    proposal = propose(tmp_path / "a.csv", zone="UTC")
    changes = proposal.mapping.of("Oil press").changes
    assert [(change.unit, moment_text(change.at)) for change in changes] == [("bar", f"{times[row]}:00Z")]
    assert proposal.mapping.of("Power").changes == ()
    assert "from psi to bar" in proposal.mapping.of("Oil press").why[-1]
