"""Hostile text in every field of every kind of entry: shown as text on every page and in every file that goes out.

Every free text of the demo record is replaced (what the models take is what counts as free), the rest of the kinds are
added, and every door is then asked for everything.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser
from starlette.testclient import TestClient

from asfound.errors import AsFoundError
from asfound.records import kinds
from asfound.records.entries import Entry
from asfound.records.store import Records
from asfound.web.app import create_app

from .conftest import start

HOSTILE = (
    "=2+5+cmd|' /C x'!A0 <script>window.owned=1</script>\"'><img src=x onerror=window.owned=1> "
    '#panic("typst") $x$ *b* _i_ @ref \\u{41} // /* {{7*7}} {% raw %} \x1b[2J\x07\u202e\r\nX-Evil: 1\r\n'
    "BEGIN:VEVENT ]]> `x` [l](javascript:owned=1) %s %n ' OR 1=1 --"
)
ONE_LINE = re.sub(r"[\r\n]+", " ", HOSTILE)
MARK = "window.owned=1"
LINKS = {
    "quantity", "slot", "worksheet", "digest", "stored_as", "family", "site", "zone", "about", "visit", "instrument",
    "in_store", "papers", "rules",
    "task", "character", "states", "label", "catalogue", "catalogue_digest", "numbering", "firing_order", "rated",
}  # fmt: skip
"""What leads somewhere keeps leading there; what a wrong link does is asked elsewhere."""
STEERING = set("\x1b\x07\x9b\r\u202e")


def hostile(kind: str, content: Mapping[str, Any]) -> dict[str, Any]:
    """Return a content with every text replaced that its model lets be anything."""
    made = json.loads(json.dumps(content))
    links = LINKS | {"source", "number"} if kind == "look" else LINKS

    def texts(node: Any, of: str = "") -> Iterator[tuple[Any, Any]]:
        for key in list(node) if isinstance(node, dict) else range(len(node)) if isinstance(node, list) else ():
            name = key if isinstance(key, str) else of
            if isinstance(node[key], str) and name not in links:
                yield node, key
            yield from texts(node[key], name)

    for node, key in texts(made):
        kept = node[key]
        for text in (HOSTILE, ONE_LINE, ONE_LINE[:60]):
            node[key] = text
            try:
                kinds.check(kind, made)
                break
            except (AsFoundError, ValueError, TypeError):
                node[key] = kept
    return made


@pytest.fixture(scope="module")
def hostile_home(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo home in which every text is hostile, and an entry of every kind that a person can make."""
    folder = tmp_path_factory.mktemp("hostile") / "home"
    time = "2032-07-08T15:00:00Z"
    with Records.open(demo) as calm:
        entries: list[Entry] = []
        for one in calm.entries():
            content = dict(one.content) if one.kind == "sealed" else hostile(one.kind, one.content)
            entries.append(replace(one, content=content, who=ONE_LINE[:400] if one.kind != "sealed" else one.who))
        contents = {digest: calm.attachment(digest) for digest in calm.files.digests()}
        changed = sum(MARK in json.dumps(one.content) for one in entries)
    assert changed > 300
    folder.mkdir()
    shutil.copy(demo / "settings.json", folder)  # its clock stands in the story
    with Records.open(folder) as records:
        for content in contents.values():
            records.files.put(content)
        records.merge(entries)
        visit = next(one for one in records.visits() if one.sealed is None)
        reading = next(one for one in records.entries(visit=visit.id) if one.kind == "reading")
        key = f"{reading.content['state']}/{reading.content['place']}/{reading.content['quantity']}"
        more: tuple[tuple[str, dict[str, Any]], ...] = (
            ("finding_decision", {"code": ONE_LINE[:60], "decision": "agreed", "why": HOSTILE, "to_whom": HOSTILE}),
            ("method_choice", {"quantity": reading.content["quantity"], "why": HOSTILE, "time": time}),
            (
                "protection_seen",
                {"protection": "overspeed", "says": "off", "called": HOSTILE, "note": HOSTILE, "time": time},
            ),
            ("reading_judged", {"about": key, "verdict": "false", "why": HOSTILE, "time": time}),
            ("open_point", {"text": HOSTILE}),
        )
        kept = 0
        for kind, content in more:
            try:
                records.append(kind, content, visit=visit.id, who=ONE_LINE[:400])
                kept += 1
            except AsFoundError:
                continue
        assert kept >= 3
    return folder


@pytest.fixture(scope="module")
def hostile_client(hostile_home: Path) -> Iterator[TestClient]:
    with Records.open(hostile_home) as opened:
        app = create_app(opened, who=ONE_LINE[:400])
        with TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as client:
            yield client


def bases(records: Records) -> tuple[str, str]:
    """Return the addresses of the open visit and of its engine, by identifiers."""
    visit = next(one for one in records.visits() if one.sealed is None)
    return f"/engines/{visit.engine}/{visit.date}", f"/engines/{visit.engine}"


def addresses(home: Path) -> dict[str, list[str]]:
    """Return addresses of pages and of files."""
    with Records.open(home) as records:
        visit, engine = bases(records)
        rest = [f"/engines/{one.id}" for one in records.engines()]
        sealed = next(f"/engines/{one.engine}/{one.date}" for one in records.visits() if one.sealed)
    steps = ("", "/fitted", "/exhaust", "/fuel", "/load", "/cylinders", "/other", "/crosscheck", "/trouble",
             "/trouble/codes", "/whatif", "/due", "/history", "/gas", "/gas/mix", "/findings", "/report", "/log",
             "/due/upgrade",
             "/reading/as_found/stack/exhaust_nox_dry", "/fitted?place=speed_controller")  # fmt: skip
    api = f"/api/visits{visit.removeprefix('/engines')}"
    return {
        "pages": ["/", "/fleet", "/due", "/instruments", "/find?q=a", "/settings", "/settle", "/hand-over", "/take-in",
                  "/sharing", "/people", *(visit + one for one in steps), *rest, *(f"{one}/due" for one in rest),
                  *(f"{one}/rules" for one in rest), *(f"{one}/history" for one in rest), f"{sealed}/report", sealed],
        "csv": [f"{visit}/{one}.csv" for one in ("readings", "results", "looks", "differences")]
        + ["/due.csv", f"{engine}/due.csv"],
        "ics": ["/due.ics", f"{engine}/due.ics"],
        "pdf": [f"{visit}/report.pdf", f"{visit}/shift.pdf", f"{engine}/due.pdf"],
        "json": [f"{visit}/record.json", api, f"{api}/record", f"{api}/crosscheck", f"{api}/trouble", f"{api}/what-if",
                 f"{api}/identification", f"{api}/readers", "/api/engines", "/api/visits", "/api/due", "/api/fleet",
                 f"/api{engine}/due", f"/api{engine}/history"],
    }  # fmt: skip


def asked(client: TestClient, path: str) -> Any:
    answer = client.get(path)
    assert answer.status_code < 500, (path, answer.text[:600])
    assert "x-evil" not in answer.headers
    return answer


def test_every_page_shows_it_as_text(hostile_client: TestClient, hostile_home: Path) -> None:
    shown = 0
    for path in addresses(hostile_home)["pages"]:
        text = asked(hostile_client, path).text
        assert "<script>window.owned" not in text, path
        assert not re.search(r"<img[^>]*onerror", text), path
        assert 'href="javascript:' not in text, path
        shown += "window.owned=1" in text
    assert shown > 20


def test_json_is_json_and_loses_nothing(hostile_client: TestClient, hostile_home: Path) -> None:
    held = 0
    for path in addresses(hostile_home)["json"]:
        answer = asked(hostile_client, path)
        assert answer.headers["content-type"].startswith(("application/json", "application/problem+json")), path
        assert "<script>" not in answer.headers.get("content-disposition", "")
        held += MARK in json.dumps(answer.json())
    assert held > 3


def test_a_spreadsheet_runs_nothing(hostile_client: TestClient, hostile_home: Path) -> None:
    held = 0
    for path in addresses(hostile_home)["csv"]:
        answer = asked(hostile_client, path)
        for row in csv.reader(io.StringIO(answer.text)):
            for cell in row:
                numeric = re.fullmatch(r"[+-]?[0-9.,]+(e[+-]?\d+)?( .{0,12})?", cell)
                assert not cell.startswith(("=", "+", "-", "@", "\t", "\r")) or numeric, (path, cell[:80])
                held += MARK in cell
    assert held > 5


def test_a_calendar_holds_its_own_events_only(hostile_client: TestClient, hostile_home: Path, demo: Path) -> None:
    import icalendar

    with Records.open(demo) as calm:
        client = TestClient(create_app(calm, who="x"), base_url="http://127.0.0.1")
        for path in addresses(hostile_home)["ics"]:
            ours = icalendar.Calendar.from_ical(asked(hostile_client, path).content)
            theirs = icalendar.Calendar.from_ical(client.get(path).content)
            assert len(list(ours.walk("VEVENT"))) == len(list(theirs.walk("VEVENT")))


def test_a_report_on_paper_shows_it_as_text(hostile_client: TestClient, hostile_home: Path) -> None:
    from pypdf import PdfReader

    held = 0
    for path in addresses(hostile_home)["pdf"]:
        answer = asked(hostile_client, path)
        assert answer.content[:5] == b"%PDF-", (path, answer.text[:400])
        assert "\n" not in answer.headers["content-disposition"]
        read = PdfReader(io.BytesIO(answer.content))
        text = "".join(page.extract_text() for page in read.pages)
        held += "panic" in text
        for page in read.pages:
            for link in page.get("/Annots") or ():
                assert "javascript:" not in str(link.get_object())
        assert "/JavaScript" not in str(read.trailer["/Root"])
    assert held >= 2


def test_every_reader_gets_it_as_text(hostile_client: TestClient, hostile_home: Path) -> None:
    with Records.open(hostile_home) as records:
        visit, _ = bases(records)
    page = asked(hostile_client, f"{visit}/report").text
    links = sorted(set(re.findall(r'href="([^"]+/report/for/[^"]+)"', page)))
    for path in links:
        answer = asked(hostile_client, path)
        if "html" in answer.headers["content-type"]:
            assert "<script>window.owned" not in answer.text
            assert not re.search(r"<img[^>]*onerror", answer.text)


def test_no_terminal_is_steered(hostile_home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from asfound.cli import main

    with Records.open(hostile_home) as records:
        visit = next(one for one in records.visits() if one.sealed is None)
        names = visit.id, visit.engine
    shown = 0
    for words in (
        ("engines",), ("visit", "show", names[0]), ("results", names[0]), ("findings", names[0]), ("due", names[1]),
        ("crosscheck", names[0]), ("trouble", names[0]), ("trouble", "cases"), ("engine", "show", names[1]), ("site",),
        ("limit", "list", names[1]), ("instrument",), ("upgrade", names[1]), ("settle",), ("home",),
        ("identify", names[0]), ("fitted", names[0]), ("rules", names[1]), ("visit", "verify", names[0]),
    ):  # fmt: skip
        capsys.readouterr()
        code = main([*words, "--home", str(hostile_home)])
        said = capsys.readouterr()
        assert code in (0, 1, 2), (words, said.err)
        assert "Traceback" not in said.err, words
        assert not set(said.out + said.err) & STEERING, words
        shown += "owned" in said.out
    assert shown > 5


def test_the_administration_shell_holds_it_as_text(hostile_home: Path, tmp_path: Path) -> None:
    from asfound.cli import main

    with Records.open(hostile_home) as records:
        visit = next(one for one in records.visits() if one.sealed is None).id
    out = tmp_path / "shell.json"
    code = main(["export-build", visit, "--aas", str(out), "--home", str(hostile_home)])
    assert code == 0
    assert MARK in json.dumps(json.loads(out.read_text(encoding="utf-8")))


def test_nothing_of_it_runs_in_a_browser(hostile_home: Path, browser: Browser) -> None:
    found = addresses(hostile_home)["pages"]
    with Records.open(hostile_home) as opened:
        server, thread, address = start(create_app(opened, who=ONE_LINE[:400]))
        context = browser.new_context(base_url=address, bypass_csp=True)  # not even without the policy of the pages
        page = context.new_page()
        page.on("dialog", lambda dialog: pytest.fail(dialog.message))
        for path in found[:30]:
            page.goto(path)
            assert page.evaluate("window.owned ?? null") is None, path
        context.close()
        server.should_exit = True
        thread.join(10)
