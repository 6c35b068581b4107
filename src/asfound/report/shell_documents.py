"""The submodel Handover Documentation (IDTA 02004, version 2.0) of a visit: its report, its record, its files.

The classes are those of VDI 2770 Part 1 (2020) as that template gives them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.report.shell_elements import NOT_RECORDED, english, inner, list_of, of_template, outer, own_id

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from asfound.records.visit import VisitView
    from asfound.report.shell_elements import Element

HANDOVER = "0173-1#01-AHF578#003"
SYSTEM = "VDI 2770 Blatt 1:2020"
CLASSES = {
    "02-02": "Drawings, plans",
    "03-02": "Operation",
    "03-04": "Inspection, maintenance, testing",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A document that goes with the engine."""

    identifier: str
    title: str
    says: str
    day: str
    """ISO date on which it got its state."""
    released: bool
    version: str
    class_id: str
    by: str
    media_type: str
    file: str = ""
    """Name in the package; empty: known by name only, its file is not here."""


def papers(view: VisitView) -> list[Paper]:
    """Return the documents of a visit: report, record, photos and files, and the papers in the cupboard."""
    found = [_of_visit(view, "report", "Report of the visit", "application/pdf", "pdf")]
    found.append(_of_visit(view, "record", "Record of the visit by its published schema", "application/json", "json"))
    found += _files(view)
    found += _cupboard(view)
    return found


def documents(view: VisitView, *, inside: bool) -> Element:
    """Return the submodel.

    Parameters
    ----------
    view : VisitView
    inside : bool
        The files go into the same package; if not, they are named without a path.
    """
    listed = [_document(one, view, inside) for one in papers(view)]
    return {
        "modelType": "Submodel",
        "idShort": "HandoverDocumentation",
        "id": own_id(f"{view.visit.id}/handover"),
        "kind": "Instance",
        "administration": {"version": "2", "revision": "0", "templateId": "https://admin-shell.io/idta-02004-2-0"},
        "semanticId": inner("Submodel", HANDOVER),
        "supplementalSemanticIds": [outer("https://api.eclass-cdp.com/0173-1-01-AHF578-003")],
        "description": english("Documents of a visit to the engine, from the engineer to whoever runs it."),
        "submodelElements": [list_of("Documents", listed)],
    }


def package_name(stem: str, ending: str) -> str:
    """Return the path of a file inside the package, in signs that every reader takes."""
    plain = "".join(sign if sign.isascii() and (sign.isalnum() or sign in "._-") else "_" for sign in stem)
    return f"/aasx/files/{plain}.{ending}" if ending else f"/aasx/files/{plain}"


def _of_visit(view: VisitView, name: str, title: str, media: str, ending: str) -> Paper:
    return Paper(
        identifier=f"{view.visit.name} {name}",
        title=f"{title} {view.visit.name}",
        says=str(view.visit.content.get("purpose") or title),
        day=(view.seal.at if view.seal else view.visit.began)[:10],
        released=view.sealed,
        version="sealed" if view.sealed else "draft",
        class_id="03-04",
        by=view.entries_all[0].who if view.entries_all else NOT_RECORDED,
        media_type=media,
        file=package_name(view.visit.name, ending),
    )


def _files(view: VisitView) -> Iterator[Paper]:
    for one in view.photos:
        content = one.content
        name = str(content["filename"])
        yield Paper(
            identifier=str(content["digest"]),
            title=str(content.get("caption") or name),
            says=str(content.get("place") or content.get("caption") or name),
            day=str(content["time"])[:10],
            released=view.sealed,
            version="1",
            class_id="03-04",
            by=one.who,
            media_type=str(content["media_type"]),
            file=package_name(f"{content['digest'][:16]}-{name}", ""),
        )


def _cupboard(view: VisitView) -> Iterator[Paper]:
    """Yield the papers that lie at the engine: known by name and revision, their files are not in the record."""
    known: Mapping[str, str] = (
        {one.id: one.title for one in view.identification.follows.documents} if view.identification else {}
    )
    for one in view.engine.content.get("papers", ()):
        name, _, revision = str(one).rpartition(" ")
        name, revision = (name, revision) if name else (revision, "")
        yield Paper(
            identifier=name,
            title=known.get(name, name),
            says=f"In the cupboard at the engine on {view.visit.date}.",
            day=view.visit.date,
            released=True,
            version=revision or NOT_RECORDED,
            class_id="03-02",
            by=NOT_RECORDED,
            media_type="application/pdf",
        )


def _document(one: Paper, view: VisitView, inside: bool) -> Element:
    domain = view.site.content.get("owner") if view.site else ""
    identity = of_template(
        "DocumentId",
        [
            of_template("DocumentDomainId", str(domain or view.engine.tag)),
            of_template("DocumentIdentifier", one.identifier),
        ],
        listed=True,
    )
    classed = of_template(
        "DocumentClassification",
        [
            of_template("ClassId", one.class_id),
            of_template("ClassName", CLASSES[one.class_id]),
            of_template("ClassificationSystem", SYSTEM),
        ],
        listed=True,
    )
    return of_template(
        "Document",
        [
            list_of("DocumentIds", [identity]),
            list_of("DocumentClassifications", [classed]),
            list_of("DocumentVersions", [_version(one, inside)]),
        ],
        listed=True,
    )


def _version(one: Paper, inside: bool) -> Element:
    file = of_template("DigitalFile", one.file if inside and one.file else (), listed=True)
    file["contentType"] = one.media_type
    return of_template(
        "DocumentVersion",
        [
            list_of("Language", [of_template("OneLanguage", "en", listed=True)], "Property"),
            of_template("Version", one.version),
            of_template("Title", one.title),
            of_template("Description", one.says),
            of_template("StatusSetDate", one.day),
            of_template("StatusValue", "Released" if one.released else "InReview"),
            of_template("OrganizationShortName", one.by),
            of_template("OrganizationOfficialName", one.by),
            list_of("DigitalFiles", [file], "File"),
        ],
        listed=True,
    )
