"""Tools for whoever writes a catalogue: draft, tree on paper, simulation, rates from confirmed visits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from asfound.errors import InputError
from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.check import check_catalogue
from asfound.fitout.draft import draft_entry
from asfound.fitout.engine_facts import EngineFacts
from asfound.fitout.fit_rates import STRENGTH, fit_rates
from asfound.fitout.identify import identify
from asfound.fitout.looks import SeenLook
from asfound.fitout.model import fit_model
from asfound.fitout.observations import STORIES, Observations, story
from asfound.fitout.simulate import drawn_engine, simulate
from asfound.fitout.tree import decision_tree

CATALOGUE = load_catalogue()
HM9 = EngineFacts(tag="X", family="HM9", driven="compressor")


@pytest.mark.parametrize("name", STORIES)
def test_a_draft_of_any_visit_passes_the_schema_check(name, tmp_path):
    one = story(name)
    text = draft_entry(identify(CATALOGUE, one.engine, one.looks), one.looks, one.engine)
    path = tmp_path / "draft.yaml"
    path.write_text(text, encoding="utf-8")
    drafted = load_catalogue(path)
    assert not [remark for remark in check_catalogue(drafted) if remark.weight == "wrong"]
    assert len(drafted.generations) == 1


def test_the_draft_of_d2_knows_d2_again(tmp_path):
    one = story("d2")
    text = draft_entry(identify(CATALOGUE, one.engine, one.looks), one.looks, one.engine)
    assert "grey wall cupboard without label, hand-numbered wires" in text
    assert "follows it" in text  # the note about the NOx probe
    path = tmp_path / "draft.yaml"
    path.write_text(text, encoding="utf-8")
    drafted = load_catalogue(path)
    looks = [
        SeenLook(slot=slot, character="kind", states=("as_found",))
        for slot in ("engine_controller", "ignition_unit", "coil", "fuel_actuator")
    ]
    found = identify(drafted, EngineFacts(tag="D2", family="HM6", driven="generator"), looks)
    assert found.builds[0].name == "d2_control"
    assert found.builds[0].probability > 0.95


def test_the_tree_ends_at_the_right_build_for_each_generation():
    tree = decision_tree(CATALOGUE, HM9)
    assert len(tree.text().splitlines()) < 200
    found = {leaf.builds[0][0] for leaf in tree.leaves() if leaf.builds[0][2] >= 0.9}
    assert {"bramquell", "bramquell+yarnolt", "moldrevane", "moldrevane_d", "vorunice", "vorunice_short"} <= found
    assert sum(leaf.chance for leaf in tree.leaves()) == pytest.approx(1.0, abs=0.02)
    assert tree.as_dict()["branches"]


def test_the_simulation_is_right_most_of_the_time_and_repeats():
    one, again = (simulate(CATALOGUE, HM9, trials=5, seed=3) for _ in range(2))
    assert one == again
    assert one.whole.right > 0.85
    assert one.whole.sure_and_wrong < 0.08
    assert 1 < one.whole.looks < 10
    assert "looks" in one.text()


def test_drawn_engines_are_swapped_as_often_as_the_rates_say():
    fit = fit_model(CATALOGUE, HM9)
    random = np.random.default_rng(5)
    slots = [one for one in fit.slots if one.swapped is None and not one.apart]
    native = {
        name: next(iter(shares)) for name, shares in ((s.id, dict(fit.model.lineages[2].native[s.id])) for s in slots)
    }
    hits, cases = 0, 0
    for _ in range(300):
        drawn = drawn_engine(fit, "moldrevane", random)
        hits += sum(drawn[one.id] != native[one.id] for one in slots)
        cases += len(slots)
    rate = CATALOGUE.rates.swapped + CATALOGUE.rates.unlisted
    assert hits / cases == pytest.approx(rate, abs=4 * np.sqrt(rate * (1 - rate) / cases))


def test_fitted_proportions_are_the_beta_posterior_of_a_general_library():
    """Conjugate Beta posterior: mean and central 95 % from scipy.stats.beta."""
    fitted = fit_rates(CATALOGUE, [story(name) for name in STORIES])
    for name, hits in (("swapped", 4), ("unlisted", 0)):
        one = fitted.rate(name)
        a = STRENGTH * one.start + hits
        b = STRENGTH * (1 - one.start) + one.cases - hits
        expected = stats.beta(a, b)
        assert one.fitted == pytest.approx(expected.mean(), abs=2e-3)
        assert one.low == pytest.approx(expected.ppf(0.025), abs=2e-3)
        assert one.high == pytest.approx(expected.ppf(0.975), abs=2e-3)
    assert "kinds:" in fitted.yaml()


def test_an_eye_that_errs_often_is_found_out():
    """Visits drawn with an error of 0.30 from 3 m: the fitted rate moves from 0.10 towards it, and the interval
    holds it.
    """
    random = np.random.default_rng(11)
    right, wrong = ("flyweight_head", "one_rib"), ("one_rib", "flyweight_head")
    visits = []
    for n in range(150):
        build, (true, false) = ("bramquell", right) if n % 2 else ("moldrevane", wrong)
        seen = false if random.random() < 0.30 * 0.6 else true
        variant = "flyweight_head" if build == "bramquell" else "skenfurl_one"
        visits.append(
            Observations(
                engine=HM9,
                looks=(SeenLook(slot="speed_controller", character="kind", states=(seen,), how="from_3m"),),
                truth={"build": build, "places": {"speed_controller": variant}},
            )
        )
    one = fit_rates(CATALOGUE, visits).rate("from_3m")
    assert one.fitted > 0.2
    assert one.cases == 150


def test_a_visit_without_truth_teaches_nothing():
    with pytest.raises(InputError, match="truth"):
        fit_rates(CATALOGUE, [Observations(engine=HM9, looks=())])
