"""The script in the docs, which shares no code with the program, agrees about the seal."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.records.demo import make_demo_home
from asfound.records.entries import canonical
from asfound.records.export import as_json, visit_record
from asfound.records.store import Records

SCRIPT = Path(__file__).parents[2] / "docs" / "verify_record.py"


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    home = make_demo_home(tmp_path_factory.mktemp("demo"))
    with Records.open(home.folder) as records:
        return json.loads(as_json(visit_record(records, "A3/2032-03-15", files=True)))


def run(record, tmp_path):
    path = tmp_path / "record.json"
    path.write_text(json.dumps(record), encoding="utf-8")
    done = subprocess.run([sys.executable, str(SCRIPT), str(path)], capture_output=True, text=True, check=False)
    return done.returncode, done.stdout


def test_it_holds(record, tmp_path):
    code, said = run(record, tmp_path)
    assert code == 0
    sealed = next(one for one in record["entries"] if one["kind"] == "sealed")
    assert said.startswith(f"holds: {len(sealed['content']['entries'])} entries")


@pytest.mark.parametrize("where", ["entry", "context", "seal", "added", "missing"])
def test_it_finds_a_change(record, tmp_path, where):
    changed = json.loads(json.dumps(record))
    entries = changed["entries"]
    if where == "entry":
        entries[3]["who"] += "."
    elif where == "context":
        changed["context"][0]["at"] = "2031-12-01T09:00:01.000+00:00"
    elif where == "seal":
        next(one for one in entries if one["kind"] == "sealed")["content"]["statement"] = "All well."
    elif where == "added":
        entries.append({**entries[3], "id": entries[3]["id"][:-1] + "x"})
    else:
        del entries[5]
    code, said = run(changed, tmp_path)
    assert code == 1
    assert said


def test_the_script_is_as_short_as_the_docs_say():
    lines = [one for one in SCRIPT.read_text(encoding="utf-8").splitlines() if one.strip()]
    assert len([one for one in lines if not one.startswith(("import ", "from ", '"""'))]) <= 40


@given(
    st.recursive(
        st.none()
        | st.booleans()
        | st.integers(-(2**53) + 1, 2**53 - 1)
        | st.floats(allow_nan=False, allow_infinity=False)
        | st.text(),
        lambda x: st.lists(x) | st.dictionaries(st.text(), x),
        max_leaves=8,
    )
)
def test_both_canonical_forms_agree(value):
    """Two implementations of RFC 8785, a library's and that of the script."""
    code = SCRIPT.read_text(encoding="utf-8").split("record = json.loads")[0]
    names: dict = {}
    exec(compile(code, str(SCRIPT), "exec"), names)
    assert names["canonical"](value).encode() == canonical(value)
