"""`asfound demo-logs`: writes, says what it wrote, and refuses what it cannot do."""

from __future__ import annotations

import json

import pytest

from asfound.cli.door import run


def test_it_writes_one_engine_and_says_so_in_json(tmp_path, capsys):
    assert run(["demo-logs", str(tmp_path / "new"), "--engine", "N2", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert list(said["engines"]) == ["N2"]
    assert said["files"] == 3
    assert (tmp_path / "new" / "truth.json").is_file()
    assert len(list((tmp_path / "new" / "logs" / "N2").glob("*.txt"))) == 3


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["full"], "is not empty"),
        (["new", "--engine", "A9"], "A9"),
        (["new", "--seed", "-1"], "below zero"),
    ],
)
def test_it_refuses_with_field_value_and_what_to_do(tmp_path, capsys, words, says):
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("kept")
    assert run(["demo-logs", str(tmp_path / words[0]), *words[1:]]) == 2
    assert says in capsys.readouterr().err
    assert (tmp_path / "full" / "mine.txt").read_text() == "kept"
