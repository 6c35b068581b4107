"""An upgrade file of one's own for another family of engines, beside the one for all."""

from __future__ import annotations

import shutil
from pathlib import Path

OWN = Path(__file__).parents[1] / "records" / "upgrade_TR10.yaml"


def test_a_family_has_its_own_file_and_the_others_keep_theirs(at_demo, demo):
    refused = at_demo("upgrade", "A3")
    assert "upgrade_TR10.yaml" in refused.out + refused.err
    shutil.copy(OWN, demo / "upgrade_TR10.yaml")
    said = at_demo("upgrade", "A3")
    assert said.code == 0
    assert "strips and order of entries" in said.out
    assert "Vorunice, whole" in at_demo("upgrade", "A1").out


def test_a_mistake_in_it_is_told_with_its_line(at_demo, demo):
    text = OWN.read_text(encoding="utf-8").replace("engine_controller, temperature_inputs", "engine_controler")
    (demo / "upgrade_TR10.yaml").write_text(text, encoding="utf-8")
    said = at_demo("upgrade", "A3")
    assert "upgrade_TR10.yaml:8" in said.out + said.err
