"""The packaged world is whole, agrees with itself, and a slip in a file is pointed at."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from asfound.errors import KnowledgeError, UnknownNameError
from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.check import check_catalogue
from asfound.fitout.checks import checks
from asfound.fitout.model import native_shares
from asfound.sources.register import keys

GENERATIONS = ("bramquell", "moldrevane", "moldrevane_d", "tisenorra", "pellimark_pk", "vorunice", "vorunice_short")
CELLS = (
    "engine_controller",
    "speed_controller",
    "mixture_controller",
    "ignition_unit",
    "coil",
    "throttle_actuator",
    "fuel_actuator",
    "o2_sensor",
    "knock_sensor",
    "temperature_inputs",
    "operator_display",
    "service_port",
)


@pytest.fixture(scope="module")
def catalogue():
    return load_catalogue()


def copied(tmp_path: Path, **changes: tuple[str, str]) -> Path:
    """Copy the packaged files, with one text changed in the named file."""
    for one in (files("asfound.fitout") / "data" / "ebbingstoke").iterdir():
        text = one.read_text(encoding="utf-8")
        for part, (old, new) in changes.items():
            if part in one.name:
                assert old in text
                text = text.replace(old, new, 1)
        (tmp_path / one.name).write_text(text, encoding="utf-8")
    return tmp_path


def test_families_generations_and_the_kit_of_the_world(catalogue):
    assert set(catalogue.families) == {"HM6", "HM9", "TR10", "TR14", "PM9"}
    assert tuple(catalogue.generations) == GENERATIONS
    assert catalogue.generations["vorunice"].grew_from == ("moldrevane", "tisenorra")
    assert catalogue.generations["bramquell"].built == (9, 26)
    assert catalogue.generations["vorunice"].built == (34, None)
    assert set(catalogue.kits["yarnolt"].hosts) == {"bramquell", "tisenorra"}
    assert catalogue.families["PM9"].mirror_of == "HM9"
    assert catalogue.families["PM9"].counted_from != catalogue.families["HM9"].counted_from


def test_every_cell_of_the_slot_table_is_there(catalogue):
    for slot in CELLS:
        for generation in GENERATIONS:
            assert native_shares(catalogue.slots[slot], generation, ""), (slot, generation)


def test_the_kit_changes_six_places_and_leaves_the_host_its_own(catalogue):
    changed = {
        name for name, slot in catalogue.slots.items() if any("yarnolt" in one.kits for one in slot.variants.values())
    }
    assert changed == {"ignition_unit", "coil", "knock_sensor", "operator_display", "service_port", "traces"}
    for slot in ("speed_controller", "mixture_controller", "throttle_actuator", "fuel_actuator"):
        assert native_shares(catalogue.slots[slot], "bramquell", "yarnolt") == native_shares(
            catalogue.slots[slot], "bramquell", ""
        )


def test_documents_bulletins_interchange_of_the_world(catalogue):
    assert {name for name in catalogue.documents if name.startswith("BQ")} == {f"BQ-{n}" for n in range(1, 5)}
    assert {name for name in catalogue.documents if name.startswith("MV")} == {f"MV-{c}" for c in "abcdef"}
    assert {name for name in catalogue.documents if name.startswith("TS")} == {f"TS-{n}" for n in range(1, 4)}
    assert {name for name in catalogue.documents if name.startswith("VR")} == {f"VR-{n}" for n in range(10, 19)}
    assert {name for name in catalogue.documents if name.startswith("PK")} == {"PK-1", "PK-2"}
    assert set(catalogue.bulletins) == {"FB-31", "FB-35", "FB-44", "FB-52"}
    assert len(catalogue.interchange) == 10
    assert {one.direction for one in catalogue.interchange} == {"both", "one_way", "no"}


def test_a_check_finds_nothing_in_the_packaged_catalogue(catalogue):
    assert check_catalogue(catalogue) == ()


def test_it_names_a_source_and_has_a_digest_that_moves_with_any_change(catalogue, tmp_path):
    assert catalogue.source in keys()
    same = load_catalogue(copied(tmp_path))
    assert same.digest == catalogue.digest
    other = load_catalogue(copied(tmp_path, **{"1_engines": ("unlisted: 0.03", "unlisted: 0.04")}))
    assert other.digest != catalogue.digest
    assert other.rates.unlisted == 0.04


def test_unknown_names_come_with_the_nearest(catalogue):
    with pytest.raises(UnknownNameError, match="speed_controller"):
        catalogue.slot("speed_controler")


@pytest.mark.parametrize(
    ("part", "old", "new", "says", "allowed"),
    [
        (
            "2_control",
            "outside: h, states: {kind: none, plugs: na",
            "outside: x, states: {kind: none, plugs: na",
            "'x'",
            "h, m, l",
        ),
        (
            "2_control",
            "native: [bramquell], outside: h, states: {kind: none",
            "native: [bramqell], outside: h, states: {kind: none",
            "bramqell",
            "bramquell",
        ),
        ("2_control", "states: {kind: three_boxes", "states: {kind: four_boxes", "four_boxes", "three_boxes"),
        ("2_control", "{m6: 0.55, md6: 0.45}", "{m6: 0.55, md6: 0.55}", "add up to 1.1", "1"),
        ("2_control", "title: Engine controller", "titel: Engine controller", "titel", "title"),
        ("5_papers", "scope: [bramquell], revision: c", "scope: [bramquel], revision: c", "bramquel", "bramquell"),
        ("6_parts", "variants: [skenfurl_one]", "variants: [skenfurl_won]", "skenfurl_won", "skenfurl_one"),
        ("6_parts", "direction: both,", "direction: bot,", "bot", "both, one_way, no"),
        ("1_engines", "cylinders: 6", "cylinders: six", "six", "1 to 24"),
    ],
)
def test_a_slip_names_file_line_column_and_what_may_stand(tmp_path, part, old, new, says, allowed):
    folder = copied(tmp_path, **{part: (old, new)})
    with pytest.raises(KnowledgeError) as caught:
        load_catalogue(folder)
    error = caught.value
    text = Path(error.file).read_text(encoding="utf-8").splitlines()
    assert part in error.file
    assert says.strip("'") in text[error.line - 1] or says in str(error)
    assert allowed in str(error)
    assert error.column >= 1


def test_a_folder_without_files_is_said(tmp_path):
    with pytest.raises(KnowledgeError, match="no catalogue here"):
        load_catalogue(tmp_path / "nowhere")


def test_sizes_and_channel_counts_of_the_world_recompute():
    """Swept volume and mean effective pressure by definition; the figures of the invented engines agree to the
    printed digit.
    """
    every = list(checks())
    assert len(every) >= 40
    assert [one for one in every if not one.holds] == []


@pytest.mark.parametrize(
    ("part", "old", "new", "code"),
    [
        ("1_engines", "vorunice: 0.21, vorunice_short: 0.05", "vorunice: 0.31, vorunice_short: 0.05", "CW-01"),
        ("2_control", "states: {kind: flyweight_head, plugs: no_plug,", "states: {kind: flyweight_head,", "CW-06"),
        (
            "2_control",
            "      three_boxes: {title: three loaf",
            "      four_boxes: {title: four boxes}\n      three_boxes: {title: three loaf",
            "CW-07",
        ),
        ("3_ignition", "states: {kind: electric_side_arm}", "states: {kind: oil_bell_crank}", "CW-04"),
        (
            "3_ignition",
            "native: [tisenorra], outside: h, states: {kind: {electric_inline",
            "native: {tisenorra: 0.5}, outside: h, states: {kind: {electric_inline",
            "CW-08",
        ),
        ("1_engines", "hosts: {bramquell: 0.22", "hosts: {bramquell: 1.22", ""),
        ("4_sensors", "share: 0.7, outside", "share: 0.6, outside", "CW-09"),
    ],
)
def test_the_check_says_what_will_not_work(tmp_path, part, old, new, code):
    folder = copied(tmp_path, **{part: (old, new)})
    if not code:
        with pytest.raises(KnowledgeError, match="outside the range"):
            load_catalogue(folder)
        return
    assert code in {one.code for one in check_catalogue(load_catalogue(folder))}
