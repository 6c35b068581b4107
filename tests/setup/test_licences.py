"""The list of licences and the bill of materials are what the lock says, and nothing in it forbids handing it on."""

from __future__ import annotations

import importlib.util
import json
import re
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
spec = importlib.util.spec_from_file_location("licences", ROOT / ".ci" / "licences.py")
licences = importlib.util.module_from_spec(spec)
sys.modules["licences"] = licences  # its dataclasses look there for their module
spec.loader.exec_module(licences)

MAY_BE_HANDED_ON = {
    "MIT", "MIT-CMU", "BSD-2-Clause", "BSD-3-Clause", "0BSD", "Apache-2.0", "PSF-2.0", "MPL-2.0", "Zlib", "CC0-1.0",
    "ISC",
}  # fmt: skip
LOCKED = re.findall(r"^([A-Za-z0-9._-]+)(?:\[[^]]*\])?==([^ \\;]+)", (ROOT / "requirements.lock").read_text(), re.M)


def test_every_line_of_the_lock_stands_on_the_page_with_its_licence():
    rows = re.findall(r"^\| ([a-zA-Z0-9._-]+) \| ([0-9][^ ]*) \| ([^|]+) \|", licences.PAGE.read_text("utf-8"), re.M)
    assert [row[:2] for row in rows] == LOCKED
    assert all(row[2].strip() for row in rows)


def test_every_licence_lets_it_be_handed_on():
    for name, version in LOCKED:
        words = set(re.split(r" AND | OR |[()]", licences.licence(name))) - {""}
        assert words <= MAY_BE_HANDED_ON, f"{name} {version}: {words}"


@pytest.mark.parametrize("path", [licences.PAGE, licences.BOM], ids=lambda path: path.name)
def test_the_files_are_as_the_script_writes_them(path):
    assert path.read_text(encoding="utf-8") == licences.files()[path], "run: python .ci/licences.py"


def test_the_bill_names_each_package_once_with_its_digests():
    bom = json.loads(licences.BOM.read_text(encoding="utf-8"))
    assert [(one["name"], one["version"]) for one in bom["components"]] == LOCKED
    assert all(one["hashes"] for one in bom["components"])
    refs = {one["bom-ref"] for one in bom["components"]} | {"asfound"}
    assert len(refs) == len(bom["components"]) + 1
    needed = {one["ref"]: one["dependsOn"] for one in bom["dependencies"]}
    assert set(needed) == refs
    reached, todo = set(), ["asfound"]
    while todo:  # everything in the lock is there because something needs it
        one = todo.pop()
        if one not in reached:
            reached.add(one)
            todo += needed[one]
    assert reached == refs


def test_the_bill_follows_its_schema():
    """CycloneDX 1.6, by the public library of that standard."""
    validation = pytest.importorskip("cyclonedx.validation.json")
    from cyclonedx.schema import SchemaVersion

    checked = validation.JsonStrictValidator(SchemaVersion.V1_6).validate_str(licences.BOM.read_text(encoding="utf-8"))
    assert checked is None


def test_an_unknown_licence_stops_it(monkeypatch):
    monkeypatch.setattr(licences.metadata, "metadata", lambda _name: _Nothing())
    with pytest.raises(SystemExit, match="no licence known"):
        licences.licence("something")


class _Nothing(dict):
    def get_all(self, _name, default):
        return default
