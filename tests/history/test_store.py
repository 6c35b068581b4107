"""Rows merge into months without loss or doubling, each cell keeps its source; reading gives back what was added."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.history import arrow_stream
from asfound.history.buckets import DAY, HOUR, TEN_MINUTES, of_rows
from asfound.history.channels import Channels
from asfound.history.manifest import engine_of_path, engine_path
from asfound.history.month import one_row_per_time
from asfound.history.months import by_month, month_bounds, month_of
from asfound.history.rows_file import columns_of
from asfound.history.store import Store

EXHAUST, PRESSURE, ALARM = "cylinder_exhaust_temperature@cylinder_1", "oil_pressure@engine", "raw:Alarm@engine"
START = month_bounds("2032-01")[0]
MINUTE = 60_000_000


def log(n=400, step=10 * MINUTE, start=START, source="panel", seed=1):
    rng = np.random.default_rng(seed)
    return Channels.of(
        start + np.arange(n) * step,
        {EXHAUST: rng.normal(800, 30, n), PRESSURE: np.where(rng.random(n) < 0.1, np.nan, rng.normal(4e5, 1e4, n))},
        {ALARM: ["low oil" if number % 50 == 0 else "" for number in range(n)]},
        source=source,
    )


def same(one: Channels, two: Channels) -> bool:
    return (
        np.array_equal(one.time, two.time)
        and one.values.keys() == two.values.keys()
        and all(np.array_equal(one.values[name], two.values[name], equal_nan=True) for name in one.values)
        and {name: text.array() for name, text in one.texts.items()}
        == {name: text.array() for name, text in two.texts.items()}
    )


def everything(store, engine="A2"):
    return store.read(engine, texts=store.texts(engine))


def test_what_was_added_is_read_back_to_the_bit(tmp_path):
    store, block = Store(tmp_path), log(6000)
    added = store.add("A2", block)
    assert (added.rows, added.kept, added.same, added.clash_count) == (6000, 6000, 0, 0)
    assert added.months == ("2032-01", "2032-02") == store.months("A2")
    assert same(everything(store), block)
    assert store.engines() == ("A2",)
    assert store.channels("A2") == (EXHAUST, PRESSURE)
    assert store.texts("A2") == (ALARM,)
    assert store.sources("A2") == {"panel": 6000}
    assert store.span("A2") == (int(block.time[0]), int(block.time[-1]))
    assert store.verify() == ()


def test_a_range_and_some_channels(tmp_path):
    store, block = Store(tmp_path), log(6000)
    store.add("A2", block)
    start, end = START + 31 * DAY - 3 * HOUR, START + 31 * DAY + 2 * HOUR
    found = store.read("A2", [PRESSURE, "speed@engine"], start, end)
    inside = (block.time >= start) & (block.time < end)
    assert np.array_equal(found.time, block.time[inside])
    assert np.array_equal(found.values[PRESSURE], block.values[PRESSURE][inside], equal_nan=True)
    assert np.isnan(found.values["speed@engine"]).all()
    assert len(store.read("nobody", [PRESSURE])) == 0
    assert len(store.read("A2", [PRESSURE], end, end)) == 0


def test_the_same_block_twice_changes_nothing(tmp_path):
    store, block = Store(tmp_path), log()
    store.add("A2", block)
    before = sorted(path.name for path in tmp_path.rglob("*"))
    again = store.add("A2", block)
    assert (again.kept, again.same, again.months) == (0, 400, ())
    assert sorted(path.name for path in tmp_path.rglob("*")) == before


def test_overlapping_files_add_what_is_new(tmp_path):
    store, block = Store(tmp_path), log(500)
    store.add("A2", block.take(np.arange(300)))
    added = store.add("A2", block.take(np.arange(200, 500)))
    assert (added.kept, added.same) == (200, 100)
    assert same(everything(store), block)


def test_an_empty_cell_is_filled_and_keeps_its_own_source(tmp_path):
    store = Store(tmp_path)
    first = Channels.of([START, START + 1], {EXHAUST: [700.0, np.nan]}, source="panel")
    second = Channels.of([START, START + 1], {EXHAUST: [700.0, 701.0], PRESSURE: [4e5, np.nan]}, source="card")
    store.add("A2", first)
    added = store.add("A2", second)
    assert (added.kept, added.cells_filled, added.clash_count) == (2, 2, 0)
    found = store.read("A2")
    assert found.time.tolist() == [START, START + 1]
    assert found.values[EXHAUST].tolist() == [700.0, 701.0]
    assert store.origin("A2", START, EXHAUST) == "panel"
    assert store.origin("A2", START + 1, EXHAUST) == "card"
    assert store.origin("A2", START, PRESSURE) == "card"
    assert store.origin("A2", START + 1, PRESSURE) == ""
    assert store.coverage("A2")[0].n == 2


def test_a_cell_that_differs_is_told_and_not_taken(tmp_path):
    store = Store(tmp_path)
    store.add("A2", Channels.of([START], {EXHAUST: [700.0]}, {ALARM: ["low oil"]}, source="panel"))
    added = store.add("A2", Channels.of([START], {EXHAUST: [710.0]}, {ALARM: ["hot"]}, source="card"))
    assert (added.kept, added.same, added.clash_count) == (0, 1, 2)
    assert (added.clashes[0].kept, added.clashes[0].refused, added.clashes[0].source) == (700.0, 710.0, "card")
    assert (added.clashes[1].kept, added.clashes[1].refused) == ("low oil", "hot")
    assert store.read("A2").values[EXHAUST].tolist() == [700.0]


def test_two_rows_of_one_time_in_one_block(tmp_path):
    store = Store(tmp_path)
    block = Channels.of([START, START], {EXHAUST: [700.0, 705.0], PRESSURE: [np.nan, 4e5]}, source="panel")
    added = store.add("A2", block)
    assert (added.kept, added.clash_count, added.cells_filled) == (2, 1, 1)
    found = store.read("A2")
    assert found.values[EXHAUST].tolist() == [700.0]
    assert found.values[PRESSURE].tolist() == [4e5]


@settings(max_examples=6, deadline=None)
@given(st.randoms(use_true_random=False), st.integers(1, 9), st.booleans())
def test_any_order_of_arrival_gives_the_same_store(tmp_path_factory, shuffle, pieces, twice):
    block = log(300, step=240 * MINUTE)  # over two months
    order = list(range(300))
    shuffle.shuffle(order)
    store = Store(tmp_path_factory.mktemp("store"))
    for number, part in enumerate(np.array_split(np.array(order), pieces)):
        rows = block.take(part)
        for _ in range(1 + twice):
            store.add("A2", Channels(time=rows.time, values=rows.values, texts=rows.texts, source=f"file {number}"))
    assert same(everything(store), block)
    for step in (TEN_MINUTES, HOUR, DAY):
        kept = store.buckets("A2", (EXHAUST, PRESSURE), START, START + 51 * DAY, step)
        assert kept.tobytes() == of_rows(block.time, block.values, step).over(kept.first, len(kept)).tobytes()
    assert sum(store.sources("A2").values()) == 300


def test_many_small_blocks_become_few_files(tmp_path):
    store, block = Store(tmp_path), log(40)
    for row in range(40):
        store.add("A2", block.take(np.array([row])))
    (month,) = store.manifests("A2")
    assert len(month.rows) < 16
    assert {path.name for path in (tmp_path / month.path).iterdir()} == {
        *month.files, f"manifest-{month.number:06d}.json", ".turn"}  # fmt: skip
    assert same(everything(store), block)
    assert store.verify() == ()


def test_widths_that_are_kept_follow_the_rows(tmp_path):
    store = Store(tmp_path)
    store.add("slow", log(144 * 3))
    store.add("fast", log(3600 * 3, step=1_000_000))
    assert set(store.manifests("slow")[0].buckets) == {str(HOUR), str(DAY)}
    assert set(store.manifests("fast")[0].buckets) == {str(TEN_MINUTES), str(HOUR), str(DAY)}
    fast = log(3600 * 3, step=1_000_000, start=START + 5 * DAY)
    store.add("slow", fast)
    assert set(store.manifests("slow")[0].buckets) == {str(TEN_MINUTES), str(HOUR), str(DAY)}
    rows = store.read("slow")
    kept = store.buckets("slow", (EXHAUST, PRESSURE), START, START + 31 * DAY, TEN_MINUTES)
    assert kept.tobytes() == of_rows(rows.time, rows.values, TEN_MINUTES).over(kept.first, len(kept)).tobytes()


def test_coverage_says_what_is_there(tmp_path):
    store, block = Store(tmp_path), log(6000)
    store.add("A2", block)
    for one in store.coverage("A2"):
        begin, end = month_bounds(one.month)
        inside = (block.time >= begin) & (block.time < end) & ~np.isnan(block.values[one.channel])
        values = block.values[one.channel][inside]
        assert (one.n, one.low, one.high) == (len(values), values.min(), values.max())
        assert one.mean == pytest.approx(values.mean(), abs=0.02)
        assert (one.first, one.last) == (block.time[inside][0], block.time[inside][-1])


def test_a_source_can_be_taken_out_and_brought_back(tmp_path):
    store, block = Store(tmp_path), log(300)
    halves = [
        Channels(time=p.time, values=p.values, texts=p.texts, source=name)
        for name, p in (("a", block.take(np.arange(0, 200))), ("b", block.take(np.arange(100, 300))))
    ]
    for half in halves:
        store.add("A2", half)
    store.add("A2", Channels.of([START + 1], {PRESSURE: [1e5]}, source="c"))
    for _ in range(8):  # so that sources share files
        store.add("A2", Channels.of([START + 7 + store.span("A2")[1]], {PRESSURE: [1e5]}, source="d"))
    assert store.withdraw("A2", "a") == 200
    assert store.withdraw("A2", "a") == 0
    assert "a" not in store.sources("A2")
    assert len(store.read("A2", [EXHAUST], START, START + 100 * 10 * MINUTE)) == 1
    rows = store.read("A2")
    kept = store.buckets("A2", (EXHAUST, PRESSURE), START, START + 31 * DAY, HOUR)
    assert kept.tobytes() == of_rows(rows.time, rows.values, HOUR).over(kept.first, len(kept)).tobytes()
    for half in halves:
        store.add("A2", half)
    inside = store.read("A2", texts=[ALARM]).time % MINUTE == 0
    assert same(store.read("A2", texts=[ALARM]).take(inside), block)


def test_infinity_and_an_engine_without_a_name_are_refused(tmp_path):
    with pytest.raises(InputError, match="infinity"):
        Store(tmp_path).add("A2", Channels.of([START], {EXHAUST: [np.inf]}))
    with pytest.raises(InputError, match="empty"):
        Store(tmp_path).add("", log(1))
    with pytest.raises(InputError, match="width"):
        Store(tmp_path).buckets("A2", (EXHAUST,), 0, DAY, 7)


def test_rows_of_nothing_and_negative_zero(tmp_path):
    store = Store(tmp_path)
    store.add("A2", Channels.of([START, START + 1, START + 2], {EXHAUST: [np.nan, -0.0, 0.0]}, source="panel"))
    found = store.read("A2")
    assert len(found) == 3
    assert np.signbit(found.values[EXHAUST][1:]).tolist() == [False, False]
    assert store.add("B", Channels.of([], {})).rows == 0
    assert store.engines() == ("A2",)


@pytest.mark.parametrize(
    "engine", ["A2", "Sägewerk 3/östlich", ".hidden", "..", "a%2Fb", "CON:1", "nul", "Aux.2", "E1.", "."]
)
def test_an_engine_may_be_called_anything(tmp_path, engine):
    assert engine_of_path(engine_path(engine)) == engine
    name = engine_path(engine)
    assert not set(name) & set('<>:"/\\|?* ')  # what Windows takes in no name
    assert not name.endswith(".")
    assert name.partition(".")[0].upper() not in {"CON", "NUL", "AUX", "PRN", "COM1", "LPT1"}
    store = Store(tmp_path)
    store.add(engine, log(3))
    assert store.engines() == (engine,)


def test_channels_that_differ_in_case_only_have_columns_of_their_own(tmp_path):
    names = ("raw:T1@engine", "raw:t1@engine", 'raw:a"b@engine', "raw:t1@engine~2")
    assert len({column.casefold() for column in columns_of(names).values()}) == 4
    store = Store(tmp_path)
    store.add("A2", Channels.of([START], {name: [float(n)] for n, name in enumerate(names)}, {names[0]: ["it's"]}))
    found = store.read("A2", texts=[names[0]])
    assert {name: column[0] for name, column in found.values.items()} == {n: float(k) for k, n in enumerate(names)}
    assert found.texts[names[0]].text(0) == "it's"


def test_any_program_can_read_a_month(tmp_path):
    """The file is plain Parquet: DuckDB alone, without this program, sees times in UTC, the source, SI values, NULL."""
    import duckdb

    store = Store(tmp_path)
    store.add("A2", Channels.of([START + 1_500_000], {EXHAUST: [700.25], PRESSURE: [np.nan]}, source="panel"))
    (file,) = tmp_path.rglob("*.parquet")
    found = duckdb.connect().execute(f"SELECT time::VARCHAR, source, * EXCLUDE (time, source) FROM '{file}'").fetchall()
    assert found == [("2032-01-01 00:00:01.5", "panel", 700.25)]
    manifest = json.loads(next(tmp_path.rglob("manifest-*.json")).read_text())
    assert manifest["month"]["rows"][0]["sources"] == {"panel": 1}


def test_rows_come_in_batches_of_any_length(tmp_path, monkeypatch):
    """Also where DuckDB does not let the length be chosen."""
    store, block = Store(tmp_path), log(5000)
    store.add("A2", block)
    monkeypatch.setattr(arrow_stream, "BATCH", 7)
    assert same(everything(store), block)
    monkeypatch.setattr(arrow_stream, "BATCH", "unknown")
    assert same(everything(store), block)


def test_months_are_utc():
    assert month_of(START - 1) == "2031-12"
    assert month_of(-1) == "1969-12"
    parts = dict(by_month(np.array([START, START - 1, START + 1], np.int64)))
    assert {month: rows.tolist() for month, rows in parts.items()} == {"2031-12": [1], "2032-01": [0, 2]}


def test_one_row_per_time_takes_the_first_that_is_not_missing():
    block = Channels.of([5, 3, 5, 5], {"a": [np.nan, 1.0, 2.0, 3.0]}, {"t": ["", "x", "", "y"]})
    one = one_row_per_time(block)
    assert one.time.tolist() == [3, 5]
    assert one.values["a"].tolist() == [1.0, 2.0]
    assert one.texts["t"].array() == ["x", "y"]
