"""Pages and papers in German and Spanish: each is made, says its language, fits a phone, and mixes no languages."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from babel.messages.pofile import read_po
from starlette.testclient import TestClient

from asfound.language import Reader, catalogues, known, reading_as, telling
from asfound.records.store import Records
from asfound.records.visit import view
from asfound.report import typeset

A2 = "/engines/A2/2032-07-08"
STEPS = (
    "fitted", "gas", "fuel", "load", "exhaust", "cylinders", "other", "crosscheck", "trouble", "whatif", "history",
    "due", "findings", "report", "log",
)  # fmt: skip
PAGES = (
    "/", "/settings", "/instruments", "/catalogue", "/find?q=oxygen", "/waiting", "/engines/A2", "/engines/A2/due",
    "/engines/A2/history", "/engines/A2/rules", A2,
    *(f"{A2}/{step}" for step in STEPS),
)  # fmt: skip
POT = Path(catalogues.__file__).with_name("asfound.pot")


@pytest.fixture(scope="module")
def identity() -> dict[str, str]:
    with POT.open("rb") as stream:
        return {str(one.id): str(one.id) for one in read_po(stream) if one.id}


@pytest.mark.parametrize("language", ["de", "es"])
def test_each_page_is_made_and_says_its_language(reader: TestClient, language: str) -> None:
    for address in PAGES:
        answer = reader.get(address, headers={"accept-language": language})
        assert answer.status_code == 200, address
        assert f'<html lang="{language}"' in answer.text, address


def test_a_page_asked_for_again_in_english_is_english(reader: TestClient) -> None:
    before = reader.get(A2).text
    reader.get(A2, headers={"accept-language": "de"})
    assert '<html lang="en"' in before
    again = reader.get(A2).text
    assert re.sub(r"\d\d:\d\d", "", again) == re.sub(r"\d\d:\d\d", "", before)


def test_the_address_goes_before_what_was_chosen(reader: TestClient) -> None:
    answer = reader.get(f"{A2}?language=es", headers={"cookie": "language=de"})
    assert '<html lang="es"' in answer.text


def test_what_was_chosen_goes_before_what_the_browser_asks(reader: TestClient) -> None:
    answer = reader.get("/settings", headers={"cookie": "language=es", "accept-language": "de"})
    assert '<html lang="es"' in answer.text


@pytest.mark.parametrize("chosen", ["xx", "de; drop", "../de", "", "\u00e9"])
def test_a_language_that_is_none_is_not_taken(reader: TestClient, chosen: str) -> None:
    assert '<html lang="en"' in reader.get("/settings", params={"language": chosen}).text


def test_the_choice_is_kept_for_browser_and_home(client: TestClient, records: Records) -> None:
    answer = client.post("/settings", data={"language": "de", "numbers": "space_comma", "dates": "iso"})
    assert answer.status_code == 303
    assert (records.settings.language, records.settings.numbers, records.settings.dates) == ("de", "space_comma", "iso")
    assert '<html lang="de"' in client.get("/settings").text


def test_the_api_says_english_codes_in_every_language(reader: TestClient) -> None:
    english = reader.get("/api/quantities").json()
    assert reader.get("/api/quantities", headers={"accept-language": "de"}).json() == english


def test_tables_are_the_same_in_every_language(reader: TestClient) -> None:
    english = reader.get(f"{A2}/readings.csv").text
    assert reader.get(f"{A2}/readings.csv", headers={"accept-language": "es"}).text == english


def test_what_is_typed_in_the_form_that_was_chosen_is_taken(client: TestClient) -> None:
    client.cookies.set("numbers", "comma")
    answer = client.post("/worksheets/site_pressure_ratio", data={})
    assert answer.status_code < 500


@pytest.mark.parametrize("language", ["de", "es"])
def test_papers_are_set_in_the_language(demo: Path, language: str) -> None:
    import io

    from pypdf import PdfReader

    with Records.open(demo) as records, reading_as(Reader(language)):
        visit = next(one for one in records.visits() if one.name == "A2/2032-07-08")
        paper = typeset.visit_report(view(records, visit.id), proof=False)
    catalog: Any = PdfReader(io.BytesIO(paper)).trailer["/Root"]
    assert str(catalog["/Lang"]).startswith(language)


@pytest.fixture
def patterns(identity: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(telling, "messages", lambda _name: identity)
    telling._teller.cache_clear()
    yield
    telling._teller.cache_clear()


@pytest.mark.usefixtures("patterns")
def test_the_pattern_of_each_finding_is_found(demo: Path) -> None:
    """What is left holds words that somebody typed; it may be 3 in 100."""
    said: list[str] = []
    with Records.open(demo) as records:
        for visit in records.visits():
            for one in view(records, visit.id).findings:
                said += [text for text in (one.says, one.next_step, one.compared_with) if text]
    with reading_as(Reader("de")):
        missing = [text for text in said if not known(text)]
    assert len(missing) <= 0.03 * len(said), missing


@pytest.fixture
def changed(identity: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Every message of the program, each with a word behind it: what decides by a shown word breaks."""
    changed_ones = {text: f"{said} eins" for text, said in identity.items()}
    monkeypatch.setattr(telling, "messages", lambda _name: changed_ones)
    monkeypatch.setattr(typeset, "messages", lambda _name: changed_ones)
    telling._teller.cache_clear()
    yield
    telling._teller.cache_clear()


@pytest.mark.slow
@pytest.mark.usefixtures("changed")
@pytest.mark.parametrize("paper", [f"{A2}/report.pdf", f"{A2}/shift.pdf", "/engines/A2/due.pdf"])
def test_no_paper_decides_by_a_word_that_is_shown(reader: TestClient, paper: str) -> None:
    typeset._template.cache_clear()
    answer = reader.get(paper, params={"language": "de"})
    typeset._template.cache_clear()
    assert answer.status_code == 200
    assert answer.content.startswith(b"%PDF")


def test_the_data_of_a_readers_document_is_the_same_in_every_language(reader: TestClient) -> None:
    address = f"{A2}/report/for/site_manager.json"
    assert reader.get(address, params={"language": "de"}).content == reader.get(address).content


@pytest.mark.parametrize("language", ["de", "es"])
def test_what_the_style_sheets_say_is_said_in_each_language(language: str) -> None:
    from importlib.resources import files

    sheets = "".join(one.read_text("utf-8") for one in (files("asfound.web") / "static" / "css").iterdir())
    said = set(re.findall(r'(?m)^\s*([.][^{\n]*::before) \{ content: "[A-Za-z]', sheets))
    assert {one for one in said if f":lang({language}) {one}" not in sheets} == set()


def test_a_calendar_speaks_the_language_and_keeps_its_identifiers(reader: TestClient) -> None:
    from icalendar import Calendar

    made = {
        language: Calendar.from_ical(reader.get("/engines/A2/due.ics", headers={"accept-language": language}).content)
        for language in ("en", "de", "es")
    }
    ids = {language: [str(one["uid"]) for one in whole.walk("VEVENT")] for language, whole in made.items()}
    assert ids["en"] == ids["de"] == ids["es"]
    said = {language: " ".join(str(one["summary"]) for one in whole.walk("VEVENT")) for language, whole in made.items()}
    assert "oil and filter" in said["en"].lower()
    assert "Öl und Filter" in said["de"]
    assert "aceite y filtro" in said["es"].lower()
    notes = " ".join(str(one["description"]) for one in made["de"].walk("VEVENT"))
    assert "The engine's own manual" not in notes
    assert "Window:" not in notes


@pytest.mark.parametrize(("language", "kept"), [("de", "A2 darf weiterlaufen"), ("es", "A2 puede seguir")])
def test_what_is_read_aloud_is_in_the_language_with_its_units_as_words(
    reader: TestClient, language: str, kept: str
) -> None:
    answer = reader.get(f"{A2}/report/for/operator.txt", headers={"accept-language": language})
    assert answer.status_code == 200
    assert kept in answer.text
    assert " per cent" not in answer.text
    assert {"de": "Prozent", "es": "por ciento"}[language] in answer.text
