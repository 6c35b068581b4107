"""The page of the quantities is what the register says now."""

from __future__ import annotations

from pathlib import Path

from asfound.quantities.nomenclature import page
from asfound.quantities.register import quantities

PAGE = Path(__file__).parents[2] / "docs" / "quantities.md"


def test_the_page_is_made_from_the_register() -> None:
    again = "run: python -m asfound.quantities.nomenclature > docs/quantities.md"
    assert PAGE.read_text(encoding="utf-8") == page(), again


def test_every_quantity_has_its_row() -> None:
    text = page()
    assert [name for name in quantities() if f"| `{name}` |" not in text] == []
