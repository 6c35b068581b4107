"""What follows from a build, and the findings that come of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.engine_facts import EngineFacts
from asfound.fitout.findings import CODES, find
from asfound.fitout.generic import generic
from asfound.fitout.identify import identify
from asfound.fitout.looks import SeenLook
from asfound.fitout.observations import STORIES, story
from asfound.quantities.findings import Case
from asfound.sources.cautions import ACTIVITIES, cautions, cautions_for

CATALOGUE = load_catalogue()
DOCS = Path(__file__).parents[2] / "docs"


def told(name):
    one = story(name)
    return identify(CATALOGUE, one.engine, one.looks)


def test_a2_documents_say_which_are_for_the_other_branch():
    documents = {one.id: one for one in told("a2").follows.documents}
    assert [name for name, one in documents.items() if one.applies] == ["MV-a", "MV-b", "MV-c", "MV-d"]
    assert "wrong branch" in documents["MV-e"].says
    assert "older than d" in documents["MV-c"].says
    assert "not for this build" in documents["MV-f"].says


def test_a2_the_d_file_refuses_and_the_d_harness_does_not_fit():
    follows = told("a2").follows
    files = {one.id: one for one in follows.software}
    assert files["M-plain"].fits
    assert files["M-plain"].checked[0] is True
    assert files["M-D"].says == "A D file refuses plain hardware."
    spares = {one.id: one for one in follows.spares}
    assert spares["harness-round"].fits
    assert spares["harness-round"].probability > 0.95
    assert not spares["harness-tails"].fits
    assert spares["coil-cover"].quantity == 9
    assert follows.channels.formula == "9 + 1 + 1 + 10 = 21"
    assert (follows.channels.units, follows.channels.free) == (1, 3)


def test_interchange_keeps_its_direction():
    rows = {one.id: one for one in told("a2").follows.interchange}
    assert rows["skenfurl-plain-d"].direction == "both"
    assert rows["skenfurl-plain-d"].concerns
    assert rows["strip-late-for-early"].direction == "one_way"
    assert rows["strip-late-for-early"].setting == "turned"
    assert rows["strip-early-for-late"].direction == "no"
    assert "methane number limit +6" in rows["head-wy31"].condition


def test_a1_takes_papers_from_host_and_set():
    follows = told("a1").follows
    by_part = {one.id: one.part for one in follows.documents if one.applies}
    assert by_part["BQ-2"] == "host"
    assert by_part["VR-12"] == by_part["VR-15"] == by_part["VR-18"] == "kit"
    assert {one.id for one in follows.bulletins if one.applies} >= {"FB-35"}
    assert any("no automatic correction when the gas changes" in one for one in follows.notes)


def test_two_documents_contradict_each_other_until_the_revision_is_noticed():
    says = next(one.contradicts for one in told("a1").follows.documents if one.id == "BQ-3")
    assert "from revision d both give the same" in says


def test_sour_gas_bulletin_needs_the_gas():
    def bulletin(content):
        engine = EngineFacts(tag="X", family="HM9", driven="compressor", hydrogen_sulphide=content)
        return next(one for one in identify(CATALOGUE, engine, []).follows.bulletins if one.id == "FB-52")

    assert not bulletin(3e-6).applies
    assert bulletin(2e-4).applies
    assert "not known" in bulletin(None).because


@pytest.mark.parametrize("name", STORIES)
def test_every_contradiction_becomes_a_finding_with_its_paragraph(name):
    identification = told(name)
    found = list(find(Case(readings=(), worked=None, identification=identification)))
    assert {one.code for one in identification.contradictions} <= {one.code for one in found}
    text = (DOCS / "findings" / "FT.md").read_text(encoding="utf-8")
    for one in found:
        assert one.code in CODES
        assert f"## {one.code}" in text
        assert one.next_step


def test_every_code_has_its_paragraph_and_no_other():
    text = (DOCS / "findings" / "FT.md").read_text(encoding="utf-8")
    headings = [line.split()[1] for line in text.splitlines() if line.startswith("## FT-")]
    assert headings == list(CODES)


def test_spares_and_papers_that_do_not_fit_are_found():
    found = {one.code for one in find(Case(readings=(), worked=None, identification=told("a2")))}
    assert {"FT-09", "FT-10"} <= found


def test_nobody_looked_yet_is_no_finding():
    assert list(find(Case(readings=(), worked=None))) == []


def test_every_hazard_of_a_look_has_its_caution():
    for slot in CATALOGUE.slots.values():
        cautions_for(slot.hazards)
        for look in slot.looks:
            cautions_for(look.hazards)
    for slot in generic().slots.values():
        cautions_for(slot.hazards)


def test_cautions_of_an_activity():
    assert len(cautions()) == 28
    found = cautions_for(["hot"], ["emission_test"])
    assert found[0].id == "CAU-05"
    assert "CAU-28" in {one.id for one in found}
    assert all(set(one.activities) <= set(ACTIVITIES) for one in cautions().values())


def test_generic_slots_hold_all_places():
    assert len(generic().slots) == 43
    assert generic().slots["coil"].hazards == ("hv",)


def test_a_look_at_a_place_of_no_catalogue_is_kept():
    engine = EngineFacts(tag="X", family="HM9", driven="compressor")
    found = identify(CATALOGUE, engine, [SeenLook(slot="starter", character="label", label="air", note="air starter")])
    assert found.place("starter").title_of_variant == "label reads air; air starter"
    assert found.place("starter").belongs == "unknown"


def test_tags_run_clockwise_from_the_flywheel_end_of_the_left_side():
    places = told("a2").places
    assert [one.number for one in places] == list(range(1, len(places) + 1))
    left = [one.place.along for one in places if one.place.side == "left"]
    right = [one.place.along for one in places if one.place.side == "right"]
    assert left == sorted(left)
    assert right == sorted(right, reverse=True)
