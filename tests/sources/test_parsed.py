"""Packaged YAML is kept as it was parsed: the same nodes, and nothing of another text."""

from __future__ import annotations

from pathlib import Path

import pytest

from asfound.errors import KnowledgeError
from asfound.sources import parsed, yaml_lines
from asfound.sources.parsed import packaged
from asfound.sources.register import ROOMS
from asfound.sources.yaml_compose import read
from asfound.sources.yaml_lines import Node, load, walk

TEXT = "first: [1, 2.5, true, null, '7']\nsecond:\n  - name: a\n    line: |\n      two\n      lines\n"


def told(root: Node) -> list[tuple[object, ...]]:
    def own(one: Node) -> object:
        return sorted(one.value) if isinstance(one.value, dict) else None if isinstance(one.value, list) else one.value

    return [(one.kind, own(one), one.file, one.line, one.column, one.key_places) for one in walk(root)]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(parsed, "FOLDER", tmp_path / "kept")
    return tmp_path / "kept"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "table.yaml"
    path.write_text(TEXT)
    return path


def test_what_was_kept_is_what_is_parsed(file: Path, monkeypatch: pytest.MonkeyPatch):
    first = load(packaged(TEXT, file), file="table.yaml")
    monkeypatch.setattr(yaml_lines, "_read", lambda *_: pytest.fail("parsed again"))
    second = load(packaged(TEXT, file), file="table.yaml")
    monkeypatch.undo()
    assert told(first) == told(second) == told(load(TEXT, file="table.yaml"))


def test_every_packaged_file_comes_back_the_same(folder: Path):
    paths = sorted(ROOMS.rglob("data/**/*.yaml"))
    for path in paths:
        text = path.read_text(encoding="utf-8")
        load(packaged(text, path), file=path.name)
        assert told(load(packaged(text, path), file=path.name)) == told(read(text, path.name)), path
    assert len(list(folder.iterdir())) == len(paths)


def test_another_text_is_parsed(file: Path):
    load(packaged(TEXT, file))
    assert load(packaged("other: 1", file)).plain() == {"other": 1}
    with pytest.raises(KnowledgeError, match="twice"):
        load(packaged("a: 1\na: 2", file))


@pytest.mark.parametrize("damage", [b"", b"\x00", b"no such thing", b"N"])
def test_a_damaged_one_is_parsed_again(file: Path, folder: Path, damage: bytes):
    load(packaged(TEXT, file))
    next(folder.iterdir()).write_bytes(damage)
    assert load(packaged(TEXT, file)).plain() == read(TEXT, "t").plain()


def test_where_nothing_can_be_written_it_is_parsed(file: Path, folder: Path):
    folder.write_text("a file where the folder should be")
    assert load(packaged(TEXT, file)).plain() == read(TEXT, "t").plain()


def test_a_file_of_a_person_is_not_kept(file: Path, folder: Path):
    assert load(file).plain() == read(TEXT, "t").plain()
    assert not folder.exists()


def test_a_plain_text_knows_no_file():
    assert not isinstance(TEXT, parsed.PackagedText)
