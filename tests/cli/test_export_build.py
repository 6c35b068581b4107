"""`asfound export-build`."""

from __future__ import annotations

import json
import zipfile


def test_shell_and_package_are_written(at_demo, tmp_path):
    file = tmp_path / "a2.json"
    said = at_demo("export-build", "A2", "--aas", str(file), "--json")
    assert json.loads(said.out)["submodels"] == ["Nameplate", "HandoverDocumentation", "AsFoundBuild"]
    assert json.loads(file.read_text(encoding="utf-8"))["assetAdministrationShells"]
    assert "--replace" in at_demo("export-build", "A2", "--aas", str(file)).err
    packed = tmp_path / "a2.AASX"
    assert at_demo("export-build", "A2/2032-07-08", "--left", "--aas", str(packed)).code == 0
    assert zipfile.is_zipfile(packed)


def test_another_ending_is_refused(at_demo, tmp_path):
    said = at_demo("export-build", "A2", "--aas", str(tmp_path / "a2.xml"))
    assert said.code == 2
    assert ".aasx" in said.err
