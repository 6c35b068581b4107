"""Draws of a fit kept beside the record: the same digits in the next process, and nothing of another engine."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from asfound.records import kept_draws
from asfound.records.demo import make_demo_home
from asfound.records.kept_draws import _read, _written, remembering
from asfound.records.model_witness import model_witness
from asfound.records.store import Records
from asfound.records.visit import view
from asfound.report import whatif_fit
from asfound.whatif.of_case import Modelled, modelled
from asfound.whatif.posterior import Drawn, Posterior
from asfound.whatif.witness import taught_by

VISIT = "A2/2032-07-08"


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("draws") / "home"
    make_demo_home(folder)
    return folder


def numbers(one: Any) -> list[Any]:
    """Return all numbers in a value, to the last digit."""
    if isinstance(one, np.ndarray):
        return [one.tobytes()]
    if is_dataclass(one) and not isinstance(one, type):
        return [each for f in fields(one) for each in numbers(getattr(one, f.name))]
    if isinstance(one, (tuple, list)):
        return [each for part in one for each in numbers(part)]
    return [one] if isinstance(one, (float, str)) else []


def test_a_fit_from_kept_draws_is_the_same_to_the_last_digit(home: Path, monkeypatch: pytest.MonkeyPatch):
    made = []
    for turn in range(2):
        whatif_fit._fitted.clear()
        with Records.open(home) as records:
            found = whatif_fit.fitted(view(records, VISIT), "as_found")
        assert isinstance(found, whatif_fit.FittedEngine)
        made.append(found.engine)
        if not turn:
            monkeypatch.setattr(Posterior, "most_probable", lambda _self: pytest.fail("fitted again"))
    assert numbers(made[0]) == numbers(made[1])
    assert made[0].effective == made[1].effective


def test_what_a_visit_taught_is_the_same_from_kept_draws(home: Path, monkeypatch: pytest.MonkeyPatch):
    with Records.open(home) as records:
        found = modelled(view(records, VISIT).case, "as_found")
        assert isinstance(found, Modelled)
        alone = taught_by(found.build, found.visit)
        taught_by(found.build, found.visit, remember=remembering(records))
        monkeypatch.setattr(Posterior, "most_probable", lambda _self: pytest.fail("fitted again"))
        again = taught_by(found.build, found.visit, remember=remembering(records))
        assert numbers(alone) == numbers(again)
        with pytest.raises(pytest.fail.Exception):
            taught_by(found.build, found.visit, seed=2, remember=remembering(records))


def test_another_program_draws_again(home: Path, monkeypatch: pytest.MonkeyPatch):
    with Records.open(home) as records:
        remember = remembering(records)
        assert remember is not None
        made = Drawn(np.array([[1.0, 1.0, 2.0]]), 3.0)
        other = Drawn(np.array([[5.0, 6.0, 7.0]]), 3.0)
        remember("an engine", lambda: made)
        assert np.array_equal(remember("an engine", lambda: other).z, made.z)
        monkeypatch.setattr(kept_draws, "program_stamp", lambda: "another")
        assert np.array_equal(remember("an engine", lambda: other).z, other.z)


def test_draws_come_back_as_they_were_written():
    rng = np.random.default_rng(1)
    z = np.repeat(rng.standard_normal((19, 60)), rng.integers(1, 6, 60), axis=1)
    found = _read(_written(Drawn(z, 61.5)))
    assert found is not None
    assert np.array_equal(found.z, z)
    assert found.effective == 61.5


@pytest.mark.parametrize("row", [{}, {"numbers": "?", "size": 2, "times": [1], "effective": 1.0},
                                 {"numbers": "AAAA", "size": 3, "times": [1], "effective": 1.0}])  # fmt: skip
def test_a_row_that_cannot_be_read_is_none(row: dict[str, Any]):
    assert _read(row) is None


def test_the_witness_needs_nobody_who_remembers(home: Path):
    with Records.open(home) as records:
        seen = view(records, VISIT)
        assert model_witness(seen.worked, seen.engine.content)("as_found") is not None
