"""The knowledge file: whole, linked, refused with file and line where wrong; nothing defeats a protection."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from asfound.errors import KnowledgeError, UnknownNameError
from asfound.sources.cautions import tags
from asfound.sources.tables import load_yaml, read_text
from asfound.troubleshoot import cautions_before, for_engine, generic, read_knowledge
from asfound.troubleshoot.generic import FILE
from asfound.troubleshoot.schema import defeats_protection

ROOT = Path(__file__).parents[2]
TEXT = read_text("asfound.troubleshoot", FILE)


def read(text: str):
    return read_knowledge([("mine.yaml", text)], hazards=tags())


def refused(old: str, new: str) -> KnowledgeError:
    assert old in TEXT
    with pytest.raises(KnowledgeError) as caught:
        read(TEXT.replace(old, new, 1))
    at = TEXT[: TEXT.index(old)].count("\n") + 1
    assert caught.value.file == "mine.yaml"
    assert abs(caught.value.line - at) <= new.count("\n") + 8  # the item that is wrong, or the line itself
    return caught.value


def test_the_whole_of_it_is_there():
    g = generic()
    assert (len(g.symptoms), len(g.causes), len(g.tests)) == (33, 89, 107)
    assert g.words == {"almost always": 0.93, "often": 0.7, "sometimes": 0.35, "seldom": 0.12, "almost never": 0.02}
    assert {one.source for part in (g.symptoms, g.causes, g.tests, g.repairs) for one in part.values()} == {
        "engineering_judgement"  # no figure in it pretends to be published
    }


def test_everything_is_linked():
    g = generic()
    for symptom in g.symptoms:
        assert sum(symptom in cause.leads_to for cause in g.causes.values()) >= 3
    for cause in g.causes:
        assert any(cause in test.given for test in g.tests.values())
        assert any(cause in repair.fixes for repair in g.repairs.values())


def test_slots_are_those_of_the_generic_engine():
    generic_slots = set(re.findall(r"\bid: ([a-z_0-9]+)", read_text("asfound.fitout", "data/generic_slots.yaml")))
    named = {one.slot for part in (generic().causes, generic().tests, generic().repairs) for one in part.values()}
    assert named - {""} <= generic_slots


def test_findings_are_findings_that_exist():
    pages = "".join(page.read_text(encoding="utf-8") for page in (ROOT / "docs" / "findings").glob("*.md"))
    for code in generic().findings:
        assert f"## {code} " in pages, code


def test_hazards_are_in_the_register_and_isolated_work_shows_isolation():
    known = {row["id"] for row in load_yaml("asfound.sources", "data/cautions.yaml")["cautions"]}
    for step in (*generic().tests.values(), *generic().repairs.values()):
        shown = cautions_before(step)
        assert {one.id for one in shown} <= known
        assert {one.tag for one in shown} == set(step.hazards)
        assert (step.state != "isolated") or "CAU-01" in {one.id for one in shown}


def test_no_step_defeats_a_protection():
    for step in (*generic().tests.values(), *generic().repairs.values()):
        assert not defeats_protection(f"{step.title}. {getattr(step, 'positive', '')}"), step.title
        assert not re.search(r"bypass(ing)? the|jumper|defeat|override|disable", step.title.lower())


@pytest.mark.parametrize(
    "text",
    [
        "Bypass the oil pressure shutdown and run",
        "Jumper the interlock",
        "Overspeed trip disabled while testing",
        "If it does not start, bridge the permissive",
        "Raise the trip setpoint until it holds",
        "Interlocks are never bridged; inhibit the alarm for a minute",
        "Switch off the gas detector",
    ],
)
def test_words_that_defeat_a_protection_are_refused(text):
    assert defeats_protection(text)
    because = refused("title: 'Walk round with eyes and ears'", f"title: '{text}'")
    assert "defeat a protection" in because.because


@pytest.mark.parametrize("text", ["An interlock is never bridged", "Watch bypass position during a load change"])
def test_words_that_forbid_it_or_name_a_part_are_not(text):
    assert not defeats_protection(text)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("s_knock: almost always", "s_knok: almost always", "none of the symptoms is called 's_knok'"),
        ("s_knock: almost always", "s_knock: usually", "'usually' is not known here"),
        ("s_knock: almost always", "s_knock: 1.0", "outside the range"),
        ("prior: fairly", "prior: always", "not known here"),
        ("mechanism: '5.2'", "mechanism: '9.9'", "failure mechanism"),
        ("modes: [PDE, NOI]", "modes: [knock]", "failure mode"),
        ("hazards: [noise, hot, rotating, gas]", "hazards: [noise, sharks]", "not known here"),
        ("hazards: [loto, hv, hot]", "hazards: [hv, hot]", "loto"),
        ("- id: c_gas_inert", "- id: c_gas_heavy", "stands in mine.yaml line"),
        ("{code: CY-10,", "{code: cy10,", "code of a finding"),
        ("about: s_exh_lo_one, says: present", "about: s_exh_lo_one, says: positive", "not known here"),
        ("engine: prechamber", "engine: steam", "not known here"),
        ("  minutes: 10\n", "  minutes: 10\n  minuets: 10\n", "'minuets' is not known here"),
        ("given: {c_air_filter: almost always}", "given: {c_air_filtre: almost always}", "none of the causes"),
        ("source: engineering_judgement", "source: hearsay", "not known here"),
    ],
)
def test_a_slip_is_refused_with_its_line(old, new, says):
    assert says in str(refused(old, new))


def test_a_cause_that_nothing_finds_or_cures_is_refused():
    lonely = (
        "- id: c_new\n  title: new\n  system: fuel\n  prior: rare\n  mechanism: '1.1'\n  leads_to: {s_knock: often}\n"
    )
    with pytest.raises(KnowledgeError, match="no test names the cause 'c_new'"):
        read(TEXT.replace("causes:\n", "causes:\n" + lonely, 1))


def test_a_company_replaces_an_item_only_when_it_says_so():
    mine = "symptoms:\n- {id: s_knock, title: Ours, group: combustion, modes: [NOI], urgent: true, seen_in: [sound]"
    files = [("generic.yaml", TEXT), ("mine.yaml", mine + "}\n")]
    with pytest.raises(KnowledgeError, match=r"stands in generic\.yaml"):
        read_knowledge(files, hazards=tags())
    files[1] = ("mine.yaml", mine + ", replaces: true}\n")
    assert read_knowledge(files, hazards=tags()).symptoms["s_knock"].title == "Ours"


def test_only_what_applies_to_this_engine_is_left():
    part = for_engine(generic(), kinds={"lean": True, "catalyst": False}, fitted={"nox_sensor": "none", "coil": "x"})
    assert "c_rich_sto" not in part.causes
    assert "c_cat_aged" not in part.causes
    assert "c_nox_drift" not in part.causes
    assert "c_coil" in part.causes
    assert "t_nox_analyser" in part.dropped
    assert all(cause in part.causes for test in part.tests.values() for cause in test.given)
    assert all(cause in part.causes for one in part.repairs.values() for cause in one.fixes)
    assert for_engine(generic()).causes == generic().causes
    with pytest.raises(UnknownNameError):
        for_engine(generic(), kinds={"diesel": True})


def test_nothing_heavy_is_loaded():
    code = (
        "import sys, asfound.troubleshoot as t; t.generic(); print([m for m in ('scipy', 'can') if m in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"


@pytest.mark.parametrize(
    "words",
    [
        "jumper the low oil pressure switch and start",
        "strap out the vibration switch",
        "put a wire across the oil pressure switch",
        "hold in the shutdown relay by hand and start",
        "take the knock shutdown out of service",
        "turn the crankcase pressure shutdown off",
        "set the overspeed trip higher",
        "increase the delay of the low oil pressure trip",
        "disconnect the gas detector",
        "pull the fuse of the shutdown circuit",
        "close the vent of the relief valve",
        "run with the guard off",
        "do not wait, bypass the trip",
        "Überbrücken des Öldruckschalters",
    ],
)
def test_ways_round_a_protection_are_refused(words):
    assert defeats_protection(words)


@pytest.mark.parametrize(
    "words",
    [
        "check the trip setpoint against the list",
        "read the interlock list; an interlock is never bridged",
        "compare the oil pressure switch to a gauge; replace it",
        "never jumper the oil pressure switch",
        "prove the shutdown on the isolated engine",
    ],
)
def test_work_on_a_protection_that_keeps_it_is_taken(words):
    assert not defeats_protection(words)


@pytest.mark.parametrize(
    "words",
    [
        "Öldruckwächter überbrücken und weiterfahren",
        "Den Oeldruckwaechter mit einem Draht ueberbruecken",
        "Klemmen Sie den Öldruckwächter ab",
        "Abschaltgrenze der Kühlwassertemperatur hochsetzen",
        "Not-Aus während des Versuchs deaktivieren",
        "Schalten Sie die Überdrehzahlabschaltung aus",
        "Sicherheitsventil festklemmen",
        "Gaswarner: Alarm unterdrücken",
        "Puentear el presostato de aceite",
        "Hacer un puente en el presostato de aceite",
        "Anular la parada por baja presión de aceite",
        "Desactivar el enclavamiento de arranque",
        "Elevar el disparo por sobrevelocidad",
        "La alarma de gas se desconecta durante la prueba",
    ],
)
def test_words_that_defeat_a_protection_are_refused_in_german_and_spanish(words):
    assert defeats_protection(words)


@pytest.mark.parametrize(
    "words",
    [
        "Öldruckwächter prüfen, Kontakt messen",
        "Ein Öldruckwächter wird niemals überbrückt",
        "Schutzbrille tragen, Motor abschalten",
        "Auslösewert ablesen und mit der Liste vergleichen",
        "El presostato no se debe puentear",
        "Nunca puentear el presostato",
        "Probar la parada de emergencia y anotar el valor",
        "Comprobar el detector de gas",
    ],
)
def test_words_that_prove_or_keep_a_protection_stand(words):
    assert not defeats_protection(words)


@pytest.mark.parametrize(
    ("name", "typed", "says"),
    [
        ("Öldruckwächter", "überbrückt", "bypassed"),
        ("Überdrehzahlabschaltung", "aus", "off"),
        ("parada de emergencia", "anulada", "bypassed"),
        ("protección de vibración", "desactivada", "off"),
        ("Öldruckwächter", "0,8 bar", ""),
    ],
)
def test_a_setting_says_in_three_languages_that_a_protection_is_off(name, typed, says):
    from asfound.troubleshoot.protections import of_settings

    assert [one.says for one in of_settings([{"name": name, "as_typed": typed}])] == ([says] if says else [])
