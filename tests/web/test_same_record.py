"""A visit done on the pages and the same visit typed on the command line are the same record and the same report."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from asfound.cli import main
from asfound.records.store import Records
from asfound.records.visit import VisitView, view
from asfound.report.content import report_content
from asfound.web.app import create_app

from .conftest import A2

MOMENTS = {"at", "time", "taken_at", "id", "seq", "entry", "chain", "digest", "previous", "catalogue_digest"}
"""What may differ: when it was kept, and what follows from that."""


def without_moments(value: Any) -> Any:
    """Return a value without the moments in it."""
    if isinstance(value, dict):
        return {name: without_moments(one) for name, one in value.items() if name not in MOMENTS}
    if isinstance(value, (list, tuple)):
        return [without_moments(one) for one in value]
    return value


def new_entries(home: Path, before: int) -> list[tuple[str, str, Any]]:
    with Records.open(home) as records:
        return [(one.kind, one.who, without_moments(one.content)) for one in records.entries()[before:]]


def on_the_pages(home: Path) -> None:
    with Records.open(home) as records:
        app = create_app(records, who="R. Imber", debug=True)
        with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as client:
            typed = {"v:as_left/stack/exhaust_co_dry": "395", "u:stack/exhaust_co_dry": "ppm"}
            assert client.post(f"{A2}/exhaust", data=typed).status_code == 303
            look = {"slot": "service_port", "answer": "seen", "how": "at_part", "s:kind": "round_five"}
            assert client.post(f"{A2}/fitted", data=look).status_code == 303


def typed_out(home: Path) -> None:
    at = ("--home", str(home), "--who", "R. Imber")
    assert main(["take", "A2", "as_left", "exhaust_co_dry@stack=395 ppm", *at]) == 0
    assert main(["look", "A2", "service_port", "kind=round_five", "--how", "at_part", *at]) == 0


def seen(home: Path) -> VisitView:
    with Records.open(home) as records:
        return view(records, records.visit("A2").id)


def test_pages_and_commands_give_one_record_and_one_report(demo: Path, tmp_path: Path) -> None:
    pages, commands = (Path(shutil.copytree(demo, tmp_path / name)) for name in ("pages", "commands"))
    with Records.open(pages) as records:
        before = len(records.entries())
    on_the_pages(pages)
    typed_out(commands)
    written = new_entries(pages, before)
    assert len(written) >= 2
    assert written == new_entries(commands, before)
    one, other = seen(pages), seen(commands)
    assert [(r.key, r.value, r.interval) for r in one.worked.results] == [
        (r.key, r.value, r.interval) for r in other.worked.results
    ]
    assert [f.says for f in one.findings] == [f.says for f in other.findings]
    assert one.identification.builds == other.identification.builds
    papers = [without_moments(report_content(each, proof=False)) for each in (one, other)]
    for part in ("headline", "lead", "answers", "ledger", "results", "limits", "belief", "findings", "open_points"):
        assert papers[0][part] == papers[1][part], part
