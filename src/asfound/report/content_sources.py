"""What the sheets rest on: cautions with source and status, the numbered sources, published checks, limits of use."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.numbering import Sources
from asfound.report.proved_before import proved
from asfound.report.wording import day_words

if TYPE_CHECKING:
    from asfound.records.visit import VisitView

LIMITS_OF_USE = (
    "This record states what was seen, read and worked out on one visit. It is no formal test unless the permit says "
    "so; the permit and the documents of the equipment decide which method counts.",
    "Probabilities rest on the readings, the claims of the instruments and the catalogue named here; what nobody "
    "looked at stays open.",
    "Local codes, the engine's own manual and licensed practice come before anything written here. The person on site "
    "decides.",
)


def cautions(view: VisitView) -> list[dict[str, str]]:
    """Return the cautions of the findings, results and looks of this visit, each once."""
    from asfound.errors import UnknownNameError
    from asfound.sources.cautions import cautions_for

    tags: list[str] = [tag for finding in view.findings for tag in finding.cautions]
    tags += [tag for result in view.worked.results for tag in result.cautions]
    if view.identification is not None:
        tags += [tag for look in view.identification.next_looks if look.allowed for tag in look.hazards]
    rows: dict[str, dict[str, str]] = {}
    for tag in dict.fromkeys(tags):
        try:
            known = cautions_for(tags=[tag])
        except UnknownNameError:
            rows[tag] = {
                "hazard": tag,
                "do": "See the rules of the site.",
                "source": "no entry in the register",
                "status": "none",
            }
            continue
        for one in known:
            status = {"verified": "text read", "secondary": "at second hand", "memory": "from memory", "none": ""}
            words = next((v for k, v in status.items() if one.cited_as.startswith(k)), one.cited_as)
            rows[one.id] = {"hazard": one.hazard, "do": ". ".join(one.do) + ".", "source": one.cited, "status": words}
    return list(rows.values())


def proof(view: VisitView) -> dict[str, Any]:
    """Return how many published values were recomputed for the rooms that this visit used, and the misses."""
    from asfound.quantities.worksheets import load
    from asfound.sources.prove import rooms_with_checks

    sheets = load()
    used = {sheets[r.worksheet].room for r in view.worked.results if r.worksheet in sheets}
    rooms = [room for room in rooms_with_checks() if room in used]
    rows = []
    for room in rooms:
        count, missed = proved(room)
        rows.append(
            {
                "room": room,
                "count": str(count),
                "missed": str(len(missed)),
                "names": "; ".join(missed),
            }
        )
    return {
        "rows": rows,
        "count": str(sum(int(r["count"]) for r in rows)),
        "missed": str(sum(int(r["missed"]) for r in rows)),
    }


def seal(view: VisitView) -> dict[str, str]:
    """Return whether and when the visit was sealed, and its digest in groups."""
    if view.seal is None:
        return {
            "sealed": "",
            "says": "Not sealed: the visit is still open and this is a draft.",
            "digest": "",
            "whole": "",
        }
    digest = str(view.seal.content["digest"])
    signed = " Signed." if view.seal.content.get("signature") else ""
    added = (
        f" {len(view.addenda)} addendum."
        if len(view.addenda) == 1
        else f" {len(view.addenda)} addenda."
        if view.addenda
        else ""
    )
    groups = " ".join(digest[i : i + 4] for i in range(0, 16, 4))
    return {
        "sealed": "yes",
        "digest": groups,
        "whole": digest,
        "says": f"Sealed {day_words(view.seal.at)}, {view.seal.at[11:16]}.{signed}{added} A correction is an addendum; "
        "this sheet is never changed.",
    }


def numbered(sources: Sources) -> list[str]:
    """Return the list of sources in the order of their numbers."""
    return list(sources.texts)
