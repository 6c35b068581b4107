"""The as-found build as an Asset Administration Shell, checked by public libraries and against the published templates.

Semantic ids: the template files IDTA 02006-3-0-2 (Digital Nameplate, admin-shell-io/submodel-templates c323dcf) and
IDTA 02004-2-0-2 (Handover Documentation, the same repository 503b95b), typed here again from those files.
"""

from __future__ import annotations

import io
import json
import zipfile
from xml.etree import ElementTree

import pytest

from asfound.records.demo import make_demo_home
from asfound.records.store import Records
from asfound.records.visit import view
from asfound.report.shell import as_json, environment, files
from asfound.report.shell_elements import clean, own, rows
from asfound.report.shell_package import package

ONE_NAMEPLATE = {
    "URIOfTheProduct": "0112/2///61987#ABN590#002",
    "ManufacturerName": "0112/2///61987#ABA565#009",
    "ManufacturerProductDesignation": "0112/2///61987#ABA567#009",
    "AddressInformation": "https://admin-shell.io/zvei/nameplate/1/0/ContactInformations/AddressInformation",
    "OrderCodeOfManufacturer": "0112/2///61987#ABA950#008",
}
"""Elements of the Digital Nameplate with cardinality One."""
ONE_VERSION = {
    "Language": "0173-1#02-AAN468#008",
    "Version": "0173-1#02-AAP003#005",
    "Title": "0173-1#02-ABG940#003",
    "Description": "0173-1#02-AAN466#004",
    "StatusSetDate": "0173-1#02-ABI000#003",
    "StatusValue": "0173-1#02-ABI001#003",
    "OrganizationShortName": "https://api.eclass-cdp.com/0173-1-02-ABI002-003",
    "OrganizationOfficialName": "0173-1#02-ABI004#003",
    "DigitalFiles": "0173-1#02-ABK126#002",
}
"""Elements of a DocumentVersion with cardinality One."""
VISITS = ("A1/2032-05-03", "A2/2032-07-08", "A3/2032-03-15", "D1/2032-06-20", "D2/2032-06-21", "N1/2032-02-12")


@pytest.fixture(scope="module")
def records(tmp_path_factory):
    folder = tmp_path_factory.mktemp("shell") / "home"
    make_demo_home(folder)
    with Records.open(folder) as opened:
        yield opened


@pytest.fixture(scope="module")
def packed(records):
    seen = view(records, "A2/2032-07-08")
    return package(as_json(environment(seen, inside=True)), files(records, seen))


def submodel(shell, name):
    return next(one for one in shell["submodels"] if one["idShort"] == name)


def meant(elements):
    return {one["idShort"]: one["semanticId"]["keys"][0]["value"] for one in elements}


def by_name(elements):
    return {one["idShort"]: one.get("value") for one in elements}


@pytest.mark.parametrize("name", VISITS)
@pytest.mark.parametrize("state", ["as_found", "as_left"])
def test_the_public_library_reads_it_and_finds_nothing_against_the_metamodel(records, name, state):
    """aas-core3.0: the constraints of the metamodel 3.0 (AASd-*) as checked by its own generated verification."""
    aas = pytest.importorskip("aas_core3")
    from aas_core3 import jsonization, verification

    assert aas
    shell = environment(view(records, name), state=state)
    read = jsonization.environment_from_jsonable(json.loads(as_json(shell)))
    assert [(str(one.path), one.cause) for one in verification.verify(read)] == []
    assert jsonization.to_jsonable(read) == shell  # nothing is lost on the way through it


def test_another_public_library_reads_the_package(packed, tmp_path):
    """basyx-python-sdk, strict: every part found by its relationships, every reference and type as it wants."""
    pytest.importorskip("basyx.aas")
    from basyx.aas import model
    from basyx.aas.adapter import aasx

    file = tmp_path / "a2.aasx"
    file.write_bytes(packed)
    store = model.DictIdentifiableStore()
    kept = aasx.DictSupplementaryFileContainer()
    with aasx.AASXReader(str(file), failsafe=False) as reader:
        reader.read_into(store, kept)
    assert sum(isinstance(one, model.AssetAdministrationShell) for one in store) == 1
    assert sum(isinstance(one, model.Submodel) for one in store) == 3
    assert len(list(kept)) == 6


def test_nameplate_follows_its_template(records):
    plate = submodel(environment(view(records, "A2/2032-07-08")), "Nameplate")
    assert plate["semanticId"]["keys"][0]["value"] == "https://admin-shell.io/idta/nameplate/3/0/Nameplate"
    assert meant(plate["submodelElements"]).items() >= ONE_NAMEPLATE.items()
    values = by_name(plate["submodelElements"])
    assert values["SerialNumber"] == "20388"
    assert values["OrderCodeOfManufacturer"] == "not recorded"


def test_documents_follow_their_template(records):
    handed = submodel(environment(view(records, "A2/2032-07-08"), inside=True), "HandoverDocumentation")
    assert handed["semanticId"] == {
        "type": "ModelReference",
        "keys": [{"type": "Submodel", "value": "0173-1#01-AHF578#003"}],
    }
    (documents,) = handed["submodelElements"]
    assert documents["idShort"] == "Documents"
    assert documents["semanticId"]["keys"][0]["value"] == "0173-1#02-ABI500#003"
    for one in documents["value"]:
        parts = by_name(one["value"])
        assert set(parts) == {"DocumentIds", "DocumentClassifications", "DocumentVersions"}
        (version,) = parts["DocumentVersions"]
        assert meant(version["value"]) == ONE_VERSION
        classed = by_name(parts["DocumentClassifications"][0]["value"])
        assert classed["ClassificationSystem"] == "VDI 2770 Blatt 1:2020"
        assert classed["ClassId"] in {"02-02", "03-02", "03-04"}
    assert len(documents["value"]) == 2 + 4 + 3  # report and record, photos, papers in the cupboard


def test_a_file_has_a_path_only_where_it_is_in_the_package(records):
    seen = view(records, "A2/2032-07-08")
    assert "/aasx/files/" not in as_json(environment(seen))
    assert "/aasx/files/A2_2032-07-08.pdf" in as_json(environment(seen, inside=True))


def test_belief_is_the_one_of_the_visit(records):
    seen = view(records, "A2/2032-07-08")
    build = by_name(submodel(environment(seen), "AsFoundBuild")["submodelElements"])
    found = seen.identification_found
    first = by_name(build["Builds"][0]["value"])
    assert first["Name"] == found.leader
    assert float(first["Probability"]) == pytest.approx(found.builds[0].probability, rel=1e-5)
    assert len(build["Places"]) == len(found.places)
    for given, place in zip(build["Places"], found.places, strict=True):
        values = by_name(given["value"])
        assert values["Name"] == place.slot
        assert float(values["Probability"]) == pytest.approx(place.probability, rel=1e-5)
        assert len(values.get("Looks", ())) == len(place.looks)
    total = sum(float(by_name(one["value"])["Probability"]) for one in build["Builds"])
    assert total == pytest.approx(1, abs=1e-4)


def test_every_word_of_our_own_is_explained_in_the_file(records):
    shell = environment(view(records, "A2/2032-07-08"))
    there = {one["id"] for one in shell["conceptDescriptions"]}
    text = as_json(submodel(shell, "AsFoundBuild"))
    used = {part.split('"')[0] for part in text.split('"value": "urn:uuid:')[1:]}
    assert {f"urn:uuid:{one}" for one in used} <= there
    assert len(there) == len(rows("shell_build"))


def test_a_package_is_found_by_its_relationships(packed):
    """Open Packaging Conventions: from the root over the origin to the shell, from the shell to its files."""
    with zipfile.ZipFile(io.BytesIO(packed)) as read:
        names = set(read.namelist())
        assert read.testzip() is None

        def targets(part):
            return [one.attrib["Target"] for one in ElementTree.fromstring(read.read(part))]

        assert targets("_rels/.rels") == ["/aasx/aasx-origin"]
        (shell,) = targets("aasx/_rels/aasx-origin.rels")
        assert json.loads(read.read(shell[1:]))["submodels"]
        beside = targets("aasx/engine/_rels/shell.aas.json.rels")
        assert {one[1:] for one in beside} <= names
        assert read.read("aasx/files/A2_2032-07-08.pdf").startswith(b"%PDF")
        typed = {one.attrib.get("PartName") for one in ElementTree.fromstring(read.read("[Content_Types].xml"))}
        assert {shell, *beside} <= typed


def test_the_same_record_gives_the_same_package(records, packed):
    seen = view(records, "A2/2032-07-08")
    again = as_json(environment(seen, inside=True))
    with zipfile.ZipFile(io.BytesIO(packed)) as read:
        assert read.read("aasx/engine/shell.aas.json").decode() == again


def test_signs_that_xml_cannot_hold_do_not_come_in():
    assert clean("a\x00b\ud800c\ufffe") == "a�b�c�"
    assert own("Probability", float("nan")) == []
    assert own("Title", "") == []
