"""The page of published cases: every command is typed in its order, and what the page shows is what comes out."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from asfound.cli import DONE, NO

PAGE = Path(__file__).parents[2] / "docs" / "cases.md"
BLOCK = re.compile(r"```sh\n(?P<typed>.*?)```(?:\n```text\n(?P<shown>.*?)```)?", re.DOTALL)
PUBLISHED = {
    "1036.05": "AGA 8 reference gas Gulf Coast, NIST workbook, heating value",
    "0.885078": "the same, DETAIL at 293.15 K and 6 MPa",
    "70.02": "EN 16726, Table A.10, mix 5",
    "1.186581": "40 CFR 1065.645(a), example",
    "7.14741": "40 CFR 1066.615, Equation -1, example",
    "169.5": "40 CFR 1065.670, example",
    "4583.8": "Mathur and Sharma, example 18.2",
}
"""Numbers that the page says are printed, with where: they must stay on it."""


def one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path / "cases"


def test_the_page_says_what_its_commands_say(asfound, home, monkeypatch):
    page = PAGE.read_text(encoding="utf-8")
    blocks = list(BLOCK.finditer(page))
    assert len(blocks) > 10
    shown_lines = 0
    for block in blocks:
        said = []
        for line in block["typed"].splitlines():
            words = shlex.split(line)
            if words[0] == "export":
                for one in words[1:]:
                    monkeypatch.setenv(*one.split("=", 1))
                continue
            assert words[0] == "asfound", line
            answer = asfound(*words[1:])
            assert answer.code in (DONE, NO), f"{line}\n{answer.err}"
            said.append(answer.out)
        out = one_line(" ".join(said))
        at = 0
        for line in (block["shown"] or "").splitlines():
            if line.strip() in ("", "..."):
                continue
            wanted = one_line(line)
            found = out.find(wanted, at)
            assert found >= 0, f"the page shows {wanted!r}, which does not come out after what stands above it"
            at = found
            shown_lines += 1
    assert shown_lines > 25


def test_the_printed_numbers_stand_on_the_page():
    page = PAGE.read_text(encoding="utf-8")
    assert [f"{number}: {where}" for number, where in PUBLISHED.items() if number not in page] == []
