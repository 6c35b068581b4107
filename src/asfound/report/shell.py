"""The as-found build of an engine as an Asset Administration Shell: nameplate, documents, and what is believed fitted.

Metamodel 3.0. Submodels: Digital Nameplate (IDTA 02006, version 3.0), Handover Documentation (IDTA 02004, version 2.0),
and one of this program's own, because no published template holds a belief. What a template wants and no visit records
is said to be 'not recorded'; nothing is made up.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Literal

from asfound.errors import RecordError
from asfound.report.shell_documents import documents, papers
from asfound.report.shell_elements import (
    NOT_RECORDED,
    clean,
    english,
    inner,
    meanings,
    of_template,
    outer,
    own,
    own_id,
    own_list,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.fitout.identification import Contradiction, Identification, PlaceBelief
    from asfound.fitout.looks import SeenLook
    from asfound.records.store import Records
    from asfound.records.visit import VisitView
    from asfound.report.shell_elements import Element

NAMEPLATE = "https://admin-shell.io/idta/nameplate/3/0/Nameplate"
State = Literal["as_found", "as_left"]


def environment(view: VisitView, *, state: State = "as_found", inside: bool = False) -> dict[str, Any]:
    """Return the shell of an engine as JSON-ready values.

    Parameters
    ----------
    view : VisitView
        Of the visit whose looks count.
    state : str
        ``as_found`` or ``as_left``.
    inside : bool
        The files of the documents go into the same package, so that they have a path.

    Raises
    ------
    RecordError
        Nothing is known of what is fitted, because no look or fact is on record.
    """
    found = view.identification_found if state == "as_found" else view.identification
    if found is None:
        raise RecordError(f"Nothing was identified on {view.visit.name}: keep a look first (asfound look).")
    submodels = [_nameplate(view), documents(view, inside=inside), _build(view, found, state)]
    content = view.engine.content
    specific = [{"name": "tag", "value": clean(view.engine.tag)}]
    if content.get("works_number"):
        specific.append({"name": "serialNumber", "value": clean(str(content["works_number"]))})
    return {
        "assetAdministrationShells": [
            {
                "modelType": "AssetAdministrationShell",
                "id": own_id(f"{view.engine.id}/shell"),
                "idShort": _short(f"Engine_{view.engine.tag}"),
                "description": english(f"Engine {view.engine.tag}, as seen on the visit {view.visit.name}."),
                "assetInformation": {
                    "assetKind": "Instance",
                    "globalAssetId": _asset(view),
                    "specificAssetIds": specific,
                },
                "submodels": [inner("Submodel", one["id"]) for one in submodels],
            }
        ],
        "submodels": submodels,
        "conceptDescriptions": meanings(),
    }


def as_json(found: dict[str, Any]) -> str:
    """Return a shell as text, the same for the same record."""
    return json.dumps(found, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def files(records: Records, view: VisitView) -> Iterator[tuple[str, str, bytes]]:
    """Yield path, media type and content of each file of the documents that is here."""
    from asfound.records.export import as_json as record_text
    from asfound.records.export import visit_record
    from asfound.report.typeset import visit_report

    record = visit_record(records, view.id)
    made = {"pdf": visit_report(view, record=record), "json": record_text(record).encode()}
    kept = {str(one.content["digest"]) for one in view.photos}
    done: set[str] = set()
    for one in papers(view):
        if not one.file or one.file in done:
            continue
        done.add(one.file)
        of_record = one.identifier in kept
        yield (
            one.file,
            one.media_type,
            records.files.get(one.identifier) if of_record else made[one.file.rpartition(".")[2]],
        )


def _asset(view: VisitView) -> str:
    return f"urn:uuid:{view.engine.id}"


def _short(text: str) -> str:
    return "".join(sign if sign.isascii() and sign.isalnum() else "_" for sign in text)[:128]


def _nameplate(view: VisitView) -> Element:
    content = view.engine.content
    plate = content.get("plate", {})
    address = [of_template(name, NOT_RECORDED) for name in ("Street", "Zipcode", "CityTown", "NationalCode")]
    elements = [
        of_template("URIOfTheProduct", _asset(view)),
        of_template("ManufacturerName", str(plate.get("manufacturer") or NOT_RECORDED)),
        of_template("ManufacturerProductDesignation", str(content.get("family") or NOT_RECORDED)),
        of_template("AddressInformation", address),
        of_template("OrderCodeOfManufacturer", NOT_RECORDED),
    ]
    for name, value in (
        ("ManufacturerProductFamily", plate.get("family")),
        ("ManufacturerProductType", plate.get("generation")),
        ("SerialNumber", plate.get("works_number") or content.get("works_number")),
        ("YearOfConstruction", plate.get("year")),
        ("UniqueFacilityIdentifier", view.site.name if view.site else ""),
    ):
        if value:
            elements.append(of_template(name, str(value)))
    return {
        "modelType": "Submodel",
        "idShort": "Nameplate",
        "id": own_id(f"{view.visit.id}/nameplate"),
        "kind": "Instance",
        "administration": {"version": "3", "revision": "0", "templateId": "https://admin-shell.io/idta-02006-3-0"},
        "semanticId": outer(NAMEPLATE),
        "description": english("What the nameplate says, as the record has it; the engine may be fitted otherwise."),
        "submodelElements": elements,
    }


def _build(view: VisitView, found: Identification, state: State) -> Element:
    elements = [
        *own("Visit", view.visit.name),
        *own("State", state),
        *own("Sealed", view.sealed),
        *own("Headline", found.headline),
        *own("Certainty", found.words),
        *own("PartConverted", found.part_converted),
        *own("NotInCatalogue", float(found.other)),
        *own("Catalogue", found.catalogue),
        *own("CatalogueDigest", found.catalogue_digest),
        *own_list("Builds", "Build", [_one_build(one) for one in found.builds]),
        *own_list("Places", "Place", [_place(one) for one in found.places]),
        *own_list("Contradictions", "Contradiction", [_clash(one) for one in found.contradictions]),
    ]
    return {
        "modelType": "Submodel",
        "idShort": "AsFoundBuild",
        "id": own_id(f"{view.visit.id}/build/{state}"),
        "kind": "Instance",
        "administration": {"version": "1", "revision": "0"},
        "semanticId": inner("ConceptDescription", own_id("as-found-build/1/0/AsFoundBuild")),
        "description": english("What is believed to be fitted, how sure that is, and the looks behind it."),
        "submodelElements": elements,
    }


def _one_build(one: Any) -> list[Element]:
    return [
        *own("Name", one.name),
        *own("Title", one.title),
        *own("Kind", one.kind),
        *own("Probability", float(one.probability)),
        *own("Before", float(one.before)),
    ]


def _place(one: PlaceBelief) -> list[Element]:
    return [
        *own("Name", one.slot),
        *own("Title", one.title),
        *own("Number", one.number),
        *own("Group", one.group),
        *own("Side", one.place.side),
        *own("WhereToFind", one.place.words),
        *own("Looked", one.looked),
        *own("Fitted", one.variant),
        *own("FittedTitle", one.title_of_variant),
        *own("Probability", float(one.probability)),
        *own("Certainty", one.words),
        *own("BelongsTo", one.belongs),
        *own("Agrees", one.agrees),
        *own_list(
            "CouldBe",
            "Candidate",
            [
                [
                    *own("Name", each.name),
                    *own("Title", each.title),
                    *own("Probability", float(each.probability)),
                    *own("BelongsTo", each.belongs),
                ]
                for each in one.variants
            ],
        ),
        *own_list("Looks", "Look", [_look(each) for each in one.looks]),
    ]


def _look(one: SeenLook) -> list[Element]:
    return [
        *own("Character", one.character),
        *own("Answer", one.answer),
        *own("Seen", ", ".join(one.states)),
        *own("HowSeen", one.how),
        *own("Label", one.label),
        *own("Entry", one.entry),
    ]


def _clash(one: Contradiction) -> list[Element]:
    return [
        *own("Code", one.code),
        *own("Says", one.says),
        *own("NextStep", one.next_step),
        *own("Probability", one.probability),
    ]
