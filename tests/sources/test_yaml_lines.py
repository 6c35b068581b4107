"""YAML that knows its lines: what is read, and what is refused with its place."""

from __future__ import annotations

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import KnowledgeError
from asfound.sources import yaml_lines
from asfound.sources.yaml_lines import load, walk

TEXT = """\
family: HM9
kits:
  - name: yarnolt
    years: [37, 48]
"""


def refused(text: str) -> KnowledgeError:
    with pytest.raises(KnowledgeError) as caught:
        load(text, file="kits.yaml")
    return caught.value


def test_every_value_knows_its_line_and_column():
    root = load(TEXT, file="kits.yaml")
    years = root.value["kits"].value[0].value["years"]
    assert (years.line, years.column) == (4, 12)
    assert (years.value[1].line, years.value[1].column) == (4, 17)
    assert root.value["kits"].value[0].key_places["name"] == (3, 5)
    assert root.plain() == {"family": "HM9", "kits": [{"name": "yarnolt", "years": [37, 48]}]}


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("7", 7),
        ("-3", -3),
        ("0.5", 0.5),
        ("1e-3", 0.001),
        (".5", 0.5),
        ("true", True),
        ("false", False),
        ("null", None),
        ("~", None),
        ("", None),
        ("yes", "yes"),
        ("off", "off"),
        ("No", "No"),
        ("007", "007"),
        ("12:30", "12:30"),
        ("2031-01-01", "2031-01-01"),
        ("'7'", "7"),
        ('"true"', "true"),
        ("1_000", "1_000"),
        ("0x1f", "0x1f"),
        (".inf", ".inf"),
    ],
)
def test_only_plain_numbers_and_true_and_false_are_not_text(written, value):
    found = load(f"a: {written}").plain()["a"]
    assert found == value
    assert type(found) is type(value)


def test_a_key_that_stands_twice_is_refused_at_the_second():
    error = refused("name: a\nyears: 3\nname: b\n")
    assert (error.line, error.column) == (3, 1)
    assert "line 1" in str(error)


def test_an_alias_is_refused_and_so_is_a_bomb_of_them():
    bomb = "a: &a [1, 1]\n" + "\n".join(f"b{i}: &b{i} [*{'a' if i == 0 else f'b{i - 1}'}, *a]" for i in range(40))
    assert "alias" in refused(bomb).because
    assert "alias" in refused("a: &x 1\nb: *x\n").because


def test_merge_keys_tags_and_other_documents_are_refused():
    assert refused("a: {<<: {b: 1}}").because
    assert "tag" in refused("a: !!python/object:os.system {}").because
    assert "tag" in refused("a: !secret 3").because
    assert refused("a: 1\n---\nb: 2\n").because
    assert refused("? [a, b]\n: 1\n").because


@pytest.mark.parametrize("text", ["a: [1, 2", "a: b: c", "\ta: 1", "a: 'open", "", "a: \x00"])
def test_what_is_no_yaml_is_refused_with_its_place(text):
    error = refused(text)
    assert error.file == "kits.yaml"
    assert error.line >= 1


def test_deep_nesting_and_large_files_are_refused(tmp_path):
    assert refused("[" * 50_000).because
    large = tmp_path / "large.yaml"
    large.write_bytes(b"a: " + b"x" * (yaml_lines.LARGEST_FILE + 1))
    with pytest.raises(KnowledgeError, match="too large"):
        load(large)


def test_a_file_that_is_not_utf8_is_refused(tmp_path):
    path = tmp_path / "old.yaml"
    path.write_bytes("größe: 3".encode("latin-1"))
    with pytest.raises(KnowledgeError, match="UTF-8"):
        load(path)


def test_the_helpers_point_at_what_is_wrong():
    root = load(TEXT, file="kits.yaml")
    with pytest.raises(KnowledgeError, match=r"kits.yaml:1:9: text is|kits.yaml:1:9: a number is wanted"):
        root.value["family"].number()
    with pytest.raises(KnowledgeError, match=r"'note' is missing"):
        root.want("family", "note")
    with pytest.raises(KnowledgeError, match=r"kits.yaml:2:1: 'kits' is not known here"):
        root.only("family")
    with pytest.raises(KnowledgeError, match=r"outside the range.*0 to 40"):
        root.value["kits"].value[0].value["years"].value[1].number(low=0, high=40)
    with pytest.raises(KnowledgeError, match="A, B"):
        root.value["family"].one_of(["A", "B"])
    for wanted in ("mapping", "items", "truth"):
        with pytest.raises(KnowledgeError):
            getattr(root.value["family"], wanted)()
    assert root.get("nothing") is None
    assert len(list(walk(root))) == 8


PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**9), 10**9) | st.floats(-1e6, 1e6) | st.text("abc xyz", max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text("abcdef", min_size=1, max_size=5), inner, max_size=3)
    ),
    max_leaves=12,
)


@given(PLAIN)
def test_what_a_yaml_writer_writes_is_read_back(value):
    """Against PyYAML's own writer: what it dumps comes back equal."""
    assert load(yaml.safe_dump({"a": value})).plain() == {"a": value}


@pytest.mark.parametrize(
    ("text", "where", "says"),
    [
        ("[" * 400 + "]" * 400, (1, 62), "nested too deep"),
        ("a: 1\nb: \ud800", (2, 4), "a character that is none"),
        ("a: 1\nb: 1e999", (2, 4), "too large"),
        ("a: " + "9" * 5000, (1, 4), "too large"),
        ("a: [" + "1," * 500_001 + "1]", (1, 1), "too many items"),
    ],
    ids=["deep", "surrogate", "float", "integer", "items"],
)
def test_what_would_choke_the_reader_is_refused_with_its_place(text, where, says):
    with pytest.raises(KnowledgeError, match=says) as refused:
        load(text, file="x.yaml")
    assert (refused.value.line, refused.value.column) == where
