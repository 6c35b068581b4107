"""The words of the scripts: each piece is still in its script, and a translation with any sign stays text."""

from __future__ import annotations

import shutil
import subprocess
from importlib.resources import files

import pytest

from asfound.language import scripts

STATIC = files("asfound.web") / "static"


@pytest.mark.parametrize(("name", "said"), [(name, said) for name, every in scripts.SCRIPTS.items() for said in every])
def test_the_piece_stands_in_its_script(name: str, said: scripts.Said) -> None:
    assert said.code in (STATIC / name).read_text("utf-8")


@pytest.mark.parametrize("name", sorted(scripts.SCRIPTS))
def test_a_hostile_translation_leaves_a_script(name: str) -> None:
    source = (STATIC / name).read_text("utf-8")
    made = scripts.translated(name, source, lambda text: f'"`${{alert(1)}}\\\n</script>{text}')
    assert "alert(1)" in made
    assert "\\n" in made
    if shutil.which("node"):
        subprocess.run(["node", "--check", "-"], input=made, text=True, check=True)


def test_without_a_translation_a_script_is_as_it_was() -> None:
    source = (STATIC / "outbox.js").read_text("utf-8")
    assert scripts.translated("outbox.js", source, {}.get) == source
