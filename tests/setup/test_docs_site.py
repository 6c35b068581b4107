"""The documentation becomes pages without a broken link, in the look of the program, loading nothing from outside."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    pytest.importorskip("mkdocs")
    folder = tmp_path_factory.mktemp("site")
    words = [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet", "--site-dir", str(folder)]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


def test_every_page_is_there_and_in_the_menu(site):
    pages = {str(one.relative_to(ROOT / "docs").with_suffix(".html")) for one in (ROOT / "docs").rglob("*.md")}
    assert {one for one in pages if not (site / one).exists()} == set()
    menu = (site / "index.html").read_text(encoding="utf-8").split("<nav")[1].split("</nav>")[0]
    assert {one for one in pages if f'href="{one}"' not in menu} == set()


def test_nothing_is_loaded_from_outside(site):
    for page in site.rglob("*.html"):
        text = page.read_text(encoding="utf-8")
        assert (
            re.findall(r'(?:src|href)="(?:https?:)?//[^"]*"[^>]*(?:rel="stylesheet")?', re.sub(r"<a [^>]*>", "", text))
            == []
        )
    for sheet in site.rglob("*.css"):
        assert re.findall(r"url\(['\"]?(?:https?:)?//", sheet.read_text(encoding="utf-8")) == []


def test_lists_are_lists_and_the_look_is_that_of_the_pages(site):
    home = (site / "index.html").read_text(encoding="utf-8")
    assert home.count("<li>") > 60
    assert (site / "look" / "css" / "tokens.css").read_bytes() == (
        ROOT / "src" / "asfound" / "web" / "static" / "css" / "tokens.css"
    ).read_bytes()
