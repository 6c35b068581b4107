"""A sheet worked out after another one, with what that left, has the digits of one worked out afresh."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.quantities.sheet import Memory, Worked, work_out
from asfound.quantities.words import Reading
from asfound.records.demo import make_demo_home
from asfound.records.store import Records
from asfound.records.visit import view

DRAWS = 200


@pytest.fixture(scope="module")
def readings(tmp_path_factory: pytest.TempPathFactory) -> tuple[Reading, ...]:
    """Everything on the sheet of a visit of the demo, both states."""
    with Records.open(make_demo_home(tmp_path_factory.mktemp("memory") / "home").folder) as records:
        return view(records, records.visit("A2/2032-07-08").id).worked.readings


def as_bits(worked: Worked) -> list[object]:
    """Return all of a sheet, draws by their bytes."""
    results = [
        (one.key, one.worksheet, one.value.hex(), worked.draws(one).tobytes(), one.outside, one.inputs, one.interval)
        for one in worked.results
    ]
    refused = [(one.worksheet, one.state, one.place, one.quantities, one.says) for one in worked.refused]
    agreed = [
        (one.key, [(b.difference.interval, b.verdict, b.in_doubts) for b in one.others]) for one in worked.agreements
    ]
    return [worked.readings, results, worked.missing, refused, agreed]


def changed(readings: list[Reading], chance: random.Random) -> list[Reading]:
    """Return the readings after somebody typed: a value, a doubt, a reading gone, one back, a sign turned, nought."""
    out = list(readings)
    at = chance.randrange(len(out))
    one = out[at]
    kind = chance.randrange(6)
    if kind == 0 and len(out) > 5:
        del out[at]
    elif kind == 1:
        out[at] = replace(one, standard_uncertainty=chance.choice([0.0, 2.0 * one.standard_uncertainty, 1e-6]))
    elif kind == 2:
        out[at] = replace(one, value=chance.choice([0.0, -0.0, -one.value]))
    elif kind == 3:
        other = "as_left" if one.state == "as_found" else "as_found"
        if not any((o.state, o.place, o.quantity) == (other, one.place, one.quantity) for o in out):
            out.append(replace(one, state=other))
    else:
        out[at] = replace(one, value=one.value * chance.uniform(0.9, 1.1), as_typed="again")
    return out


@settings(max_examples=15)
@given(seed=st.integers(0, 2**20))
def test_working_out_with_memory_changes_no_bit(readings: tuple[Reading, ...], seed: int) -> None:
    chance, memory, now = random.Random(seed), Memory(), list(readings)
    for _ in range(6):
        now = changed(now, chance)
        with_memory = work_out(now, number=DRAWS, memory=memory, faults=[])
        assert as_bits(with_memory) == as_bits(work_out(now, number=DRAWS, faults=[]))


def test_what_has_not_changed_is_the_same_object(readings: tuple[Reading, ...]) -> None:
    memory = Memory()
    before = work_out(readings, number=DRAWS, memory=memory)
    carbon_monoxide = next(one for one in readings if one.quantity == "exhaust_co_dry")
    changed = [replace(one, value=1.01 * one.value) if one is carbon_monoxide else one for one in readings]
    after = work_out(changed, number=DRAWS, memory=memory)
    kept = {id(one) for one in before.results}
    anew = {one.quantity for one in after.results if id(one) not in kept}
    assert "engine_power" not in anew
    assert any("co" in one.split("_") for one in anew)
    assert len(anew) < len(after.results) / 3


def test_what_follows_is_made_again_only_when_its_numbers_change(readings: tuple[Reading, ...]) -> None:
    memory, made = Memory(), []

    def ask(sheet: Worked, key: str) -> None:
        sheet.recall("asked", (sheet.taken(key),), lambda: made.append(key))

    key = "as_found/stack/exhaust_oxygen_dry"
    ask(work_out(readings, number=DRAWS, memory=memory), key)
    same = [replace(one, value=one.value * 1.001) if one.quantity == "oil_pressure" else one for one in readings]
    ask(work_out(same, number=DRAWS, memory=memory), key)
    assert len(made) == 1
    other = [replace(one, value=one.value * 1.001) if one.key == key else one for one in same]
    ask(work_out(other, number=DRAWS, memory=memory), key)
    assert len(made) == 2


def test_other_draws_or_another_seed_start_afresh(readings: tuple[Reading, ...]) -> None:
    memory = Memory()
    work_out(readings, number=DRAWS, memory=memory)
    for number, seed in ((DRAWS, 2), (DRAWS + 1, 2)):
        with_memory = work_out(readings, number=number, seed=seed, memory=memory)
        assert as_bits(with_memory) == as_bits(work_out(readings, number=number, seed=seed))
