"""Elements of an Asset Administration Shell as JSON (metamodel 3.0), from the tables of the published templates.

Elements inside a list bear no name of their own (constraint AASd-120 of the metamodel).
"""

from __future__ import annotations

import math
import re
import uuid
from functools import cache
from typing import TYPE_CHECKING, Any, Literal

from asfound.sources.tables import load_csv

if TYPE_CHECKING:
    from collections.abc import Sequence

Element = dict[str, Any]
OWN = uuid.UUID("6f0c2b52-0f7b-5d0e-9a53-1a5f5ed0a2d4")
"""Namespace of the identifiers that this program coins."""
NOT_RECORDED = "not recorded"
"""Stands where a template wants a value that no visit records."""
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def own_id(name: str) -> str:
    """Return the identifier of something that this program names; the same name gives the same, everywhere."""
    return f"urn:uuid:{uuid.uuid5(OWN, name)}"


def clean(text: str) -> str:
    """Return a text without the signs that XML cannot hold; the metamodel refuses them in JSON too."""
    return _NOT_XML.sub("�", text)


def outer(*values: str) -> Element:
    """Return a reference to something defined elsewhere."""
    return {"type": "ExternalReference", "keys": [{"type": "GlobalReference", "value": one} for one in values]}


def inner(kind: str, value: str) -> Element:
    """Return a reference to something of the metamodel, by its identifier."""
    return {"type": "ModelReference", "keys": [{"type": kind, "value": value}]}


def english(text: str) -> list[Element]:
    """Return a text in English."""
    return [{"language": "en", "text": clean(text) or NOT_RECORDED}]


@cache
def rows(file: Literal["shell_elements", "shell_build"]) -> dict[str, dict[str, str]]:
    """Return a table by the names of the elements."""
    return {row["name"]: row for row in load_csv("asfound.report", f"data/{file}.csv")}


def of_template(name: str, value: str | Sequence[Element], *, listed: bool = False) -> Element:
    """Return an element of a published template.

    Parameters
    ----------
    name : str
        As in ``data/shell_elements.csv``.
    value : str or sequence of elements
        Text of a property or language property, elements of a collection or list.
    listed : bool
        It stands inside a list, and so without name.
    """
    row = rows("shell_elements")[name]
    made: Element = {} if listed else {"idShort": name}
    made |= {"modelType": row["type"], "semanticId": outer(row["semantic_id"])}
    if row["supplemental"]:
        made["supplementalSemanticIds"] = [outer(one) for one in row["supplemental"].split()]
    if row["type"] == "Property":
        made["valueType"] = row["value_type"]
    if isinstance(value, str):
        made["value"] = english(value) if row["type"] == "MultiLanguageProperty" else clean(value)
    elif value:
        made["value"] = list(value)
    return made


def list_of(name: str, elements: Sequence[Element], kind: str = "SubmodelElementCollection") -> Element:
    """Return a list of a published template; all its elements mean the same, as the metamodel wants."""
    made = of_template(name, elements) | {"orderRelevant": False, "typeValueListElement": kind}
    if kind == "Property":
        made["valueTypeListElement"] = "xs:string"
    if elements:
        made["semanticIdListElement"] = elements[0]["semanticId"]
    return made


def own(name: str, value: str | float | bool | None) -> list[Element]:
    """Return a property of the submodel of the as-found build, or nothing where there is no value."""
    if value is None or value == "" or (isinstance(value, float) and not math.isfinite(value)):
        return []
    kind = rows("shell_build")[name]["value_type"]
    text = str(value).lower() if isinstance(value, bool) else f"{value:.6g}" if isinstance(value, float) else str(value)
    return [
        {
            "idShort": name,
            "modelType": "Property",
            "semanticId": _meaning(name),
            "valueType": kind,
            "value": clean(text),
        }
    ]


def own_list(name: str, item: str, groups: Sequence[Sequence[Element]]) -> list[Element]:
    """Return a list of collections of that submodel, or nothing where it would be empty."""
    if not groups:
        return []
    collections = [
        {"modelType": "SubmodelElementCollection", "semanticId": _meaning(item), "value": list(one)} for one in groups
    ]
    return [
        {
            "idShort": name,
            "modelType": "SubmodelElementList",
            "semanticId": _meaning(name),
            "orderRelevant": True,
            "semanticIdListElement": _meaning(item),
            "typeValueListElement": "SubmodelElementCollection",
            "value": collections,
        }
    ]


def meanings() -> list[Element]:
    """Return what the words of that submodel mean, as concept descriptions."""
    return [
        {
            "modelType": "ConceptDescription",
            "id": own_id(f"as-found-build/1/0/{name}"),
            "idShort": name,
            "description": english(row["says"]),
        }
        for name, row in rows("shell_build").items()
    ]


def _meaning(name: str) -> Element:
    return inner("ConceptDescription", own_id(f"as-found-build/1/0/{name}"))
