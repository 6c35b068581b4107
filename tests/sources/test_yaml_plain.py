"""YAML of data files: dates stay dates; what is made to harm is refused."""

from __future__ import annotations

from datetime import date

import pytest
import yaml

from asfound.sources.yaml_plain import LARGEST, load_plain


def test_it_reads_what_the_safe_loader_reads(tmp_path):
    text = "a: 2032-07-08\nb: [1, 2.5, true, null, 'x']\nc: {d: e}\n"
    assert load_plain(text) == yaml.safe_load(text)
    assert load_plain("2032-07-08") == date(2032, 7, 8)
    assert load_plain("") is None
    file = tmp_path / "a.yaml"
    file.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert load_plain(file) == yaml.safe_load(text)


@pytest.mark.parametrize(
    "text",
    [
        "a: &a [1]\nb: *a",
        "a: &a\n  b: *a",
        "a: 1\n<<: &x {b: 2}\nc: *x",
        "a: " + "9" * 5_000,
        "[" * 3_000,
        "a: 2032-13-45",
        "a: 2032-02-30",
        "a: !!python/object/apply:os.getcwd []",
        "a: 1\n---\nb: 2",
        "a: [1",
        "a: \x00",
        "x" * (LARGEST + 1),
    ],
    ids=range(12),
)
def test_it_is_refused(text):
    with pytest.raises(yaml.YAMLError):
        load_plain(text)


def test_bytes_that_are_no_text_are_refused(tmp_path):
    file = tmp_path / "a.yaml"
    file.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(yaml.YAMLError):
        load_plain(file)
