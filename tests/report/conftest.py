"""Visits made once for all tests of the papers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from . import story

if TYPE_CHECKING:
    from asfound.records.visit import VisitView


@pytest.fixture(scope="session")
def views(tmp_path_factory: pytest.TempPathFactory) -> dict[str, VisitView]:
    """Return the visits by name."""
    made: dict[str, Any] = {
        "a2": lambda f: story.a2(f, sealed=True),
        "open": story.a2,
        "empty": story.empty,
        "hostile": story.hostile,
        "many": story.many,
    }
    return {name: make(tmp_path_factory.mktemp(name)) for name, make in made.items()}


@pytest.fixture(scope="session")
def papers(views: dict[str, VisitView]) -> dict[str, bytes]:
    """Return the reports of all visits, and the half sheet of A2 as ``shift``."""
    from asfound.report.typeset import operator_sheet, visit_report

    found = {name: visit_report(view, proof=False) for name, view in views.items()}
    return {**found, "shift": operator_sheet(views["a2"]), "shift of hostile": operator_sheet(views["hostile"])}
