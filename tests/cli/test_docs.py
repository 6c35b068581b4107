"""Every command, setting, finding and recipe has its page, and every link of the docs leads somewhere."""

from __future__ import annotations

import re
import shlex
from dataclasses import fields
from pathlib import Path

import pytest

from asfound.cli.commands import COMMANDS
from asfound.cli.manual import page
from asfound.records.home import Settings

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
SOURCE = ROOT / "src" / "asfound"
PAGES = sorted([*DOCS.rglob("*.md"), ROOT / "README.md", ROOT / "CHANGELOG.md", ROOT / "benchmarks" / "README.md"])
CODE = re.compile(r"""["']([A-Z]{2}-\d{2})["']""")


def text_of(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def test_the_page_of_the_commands_is_what_the_commands_say():
    assert text_of(DOCS / "commands.md") == page(), "run: python -m asfound.cli.manual > docs/commands.md"


def test_every_command_stands_on_its_page():
    assert [one.name for one in COMMANDS if f"### asfound {one.name}\n" not in text_of(DOCS / "commands.md")] == []


def test_every_setting_stands_on_its_page():
    assert [one.name for one in fields(Settings) if f"| `{one.name}` |" not in text_of(DOCS / "settings.md")] == []


def test_every_variable_of_the_environment_stands_on_the_page_of_settings():
    read = {name for path in SOURCE.rglob("*.py") for name in re.findall(r"\bASFOUND_[A-Z_]+\b", text_of(path))}
    assert {name for name in read if name not in text_of(DOCS / "settings.md")} == set()


def codes() -> dict[str, str]:
    """Codes of findings in the code and in the knowledge files, with where they stand."""
    places = [*SOURCE.rglob("findings*.py"), *SOURCE.rglob("contradictions*.py"), *SOURCE.rglob("data/**/*.yaml")]
    found = {}
    for path in places:
        marks = CODE if path.suffix == ".py" else re.compile(r"code: ['\"]?([A-Z]{2}-\d{2})")
        found |= {code: str(path.relative_to(ROOT)) for code in marks.findall(text_of(path))}
    return found


def test_every_finding_has_its_paragraph():
    assert "EX-01" in codes()
    headed = set(re.findall(r"^#+ ([A-Z]{2}-\d{2})\b", "\n".join(map(text_of, (DOCS / "findings").glob("*.md"))), re.M))
    assert {code: where for code, where in codes().items() if code not in headed} == {}


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_links_lead_somewhere(path):
    links = re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", text_of(path))
    inside = [link for link in links if "://" not in link and not link.startswith("mailto:")]
    assert [link for link in inside if not (path.parent / link).exists()] == []


def test_every_page_is_reached_from_the_index():
    linked = {(DOCS / link).resolve() for link in re.findall(r"\]\(([^)#\s]+\.md)", text_of(DOCS / "index.md"))}
    assert [
        str(p.relative_to(DOCS)) for p in DOCS.rglob("*.md") if p.resolve() not in linked and p.name != "index.md"
    ] == []


def commands_of(page: Path) -> list[list[str]]:
    """The commands that the ``sh`` blocks of a page show, in order."""
    blocks = re.findall(r"```sh\n(.*?)```", text_of(page), re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines()]
    parts = [part for line in lines for part in re.split(r"&&|;", re.sub(r"\s+# .*", "", line))]
    return [shlex.split(part)[1:] for part in parts if part.strip().startswith("asfound ")]


@pytest.mark.parametrize("page", [DOCS / "tour.md", ROOT / "README.md"], ids=lambda path: path.name)
def test_the_commands_of_a_page_can_be_typed_in_its_order(page, at_demo, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    typed = [words for words in commands_of(page) if words[0] not in ("demo", "completion", "serve")]
    assert len(typed) > 8
    for words in typed:
        assert at_demo(*words).code == 0, " ".join(words)
    assert (tmp_path / "a2.pdf").read_bytes().startswith(b"%PDF-")
    assert (tmp_path / "a2-shift.pdf").exists()
    assert (tmp_path / "a2.json").exists()


def test_the_tutorial_can_be_typed_from_an_empty_home(tmp_path, monkeypatch):
    from asfound.cli.door import run

    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("ASFOUND_HOME", str(tmp_path / "my-home"))
    monkeypatch.setenv("ASFOUND_WHO", "J. Orme")
    typed = commands_of(DOCS / "tutorial.md")
    assert len(typed) > 18
    assert [" ".join(words) for words in typed if run(words) != 0] == []
    assert (tmp_path / "w1.pdf").read_bytes().startswith(b"%PDF-")


def test_the_tour_of_all_engines_can_be_typed(tmp_path, monkeypatch):
    from asfound.cli.door import run

    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("ASFOUND_HOME", str(tmp_path / "whole"))
    monkeypatch.setenv("ASFOUND_WHO", "J. Orme")
    typed = commands_of(DOCS / "tour_engines.md")
    assert {word[:2] for words in typed for word in words} >= {"A1", "A3", "N1", "N2", "D1", "D2"}
    assert [" ".join(words) for words in typed if run(words) != 0] == []


def test_examples_of_the_readme_name_real_commands():
    words = {one.name for one in COMMANDS}
    said = re.findall(r"(?:^|[;&(]\s*|`|\\)asfound ([a-z-]+)", text_of(ROOT / "README.md"), re.MULTILINE)
    assert len(said) > 10
    assert [word for word in said if word not in words] == []
