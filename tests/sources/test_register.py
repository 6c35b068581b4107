"""The register of sources."""

from __future__ import annotations

import pytest

from asfound.errors import KnowledgeError, UnknownNameError
from asfound.sources import register
from asfound.sources.register import KINDS, RESERVED, SEEN, cite, keys, source, sources


@pytest.fixture
def rooms(tmp_path, monkeypatch):
    """Return a function that lays out rooms with their own registers in place of the real ones."""

    def lay(**texts: str):
        for room, text in texts.items():
            (tmp_path / room / "data").mkdir(parents=True)
            (tmp_path / room / "data" / "sources.yaml").write_text(text, encoding="utf-8")
        monkeypatch.setattr(register, "ROOMS", tmp_path)
        register._paths.cache_clear()
        keys.cache_clear()
        sources.cache_clear()

    yield lay
    monkeypatch.undo()
    for one in (register._paths, keys, sources):
        one.cache_clear()


BASE = "".join(f"{key}: {{title: {key}, kind: practice, seen: none}}\n" for key in RESERVED)


def test_every_source_says_what_it_is_and_how_it_was_seen():
    for key, one in sources().items():
        assert one.key == key
        assert one.title
        assert one.kind in KINDS
        assert one.seen in SEEN


def test_the_quick_list_of_keys_is_the_list_of_the_register():
    assert keys() == set(sources())


def test_a_citation_says_when_the_text_itself_was_not_read():
    assert cite("common_practice") == "common practice, no source"
    assert cite("cfr40_60_4244", "(d), Equation 1").endswith("(d), Equation 1")
    assert "secondary source" in cite("nist_sp_811", "B.8")
    assert "from memory, unverified" in cite("iso_80000_1", "annex B")


def test_an_unknown_key_names_the_nearest():
    with pytest.raises(UnknownNameError) as caught:
        source("nist_sp_81")
    assert "nist_sp_811" in caught.value.near


def test_a_room_adds_its_own_and_may_repeat_one_word_for_word(rooms):
    rooms(
        sources=BASE + "a_book: {title: A book, kind: handbook}\n",
        fuel="a_book: {title: A book, kind: handbook}\nb: {title: B, kind: data}\n",
    )
    assert {"a_book", "b"} <= set(sources())


@pytest.mark.parametrize(
    ("text", "because"),
    [
        ("a_book: {title: Another book, kind: handbook}\n", "already registered"),
        ("b: {title: B, kind: rumour}\n", "rumour"),
        ("b: {title: B, kind: data, colour: red}\n", "colour"),
        ("b: {kind: data}\n", "title"),
        ("b: {title: B, kind: data, year: soon}\n", "number"),
        ("B-1: {title: B, kind: data}\n", "key"),
    ],
)
def test_a_wrong_register_is_refused_with_its_place(rooms, text, because):
    rooms(sources=BASE + "a_book: {title: A book, kind: handbook}\n", fuel=text)
    with pytest.raises(KnowledgeError, match=because) as caught:
        sources()
    assert caught.value.file.startswith(("fuel/", "sources/"))


def test_the_reserved_keys_must_be_there(rooms):
    rooms(sources="a_book: {title: A book, kind: handbook}\n")
    with pytest.raises(UnknownNameError, match="common_practice"):
        sources()
