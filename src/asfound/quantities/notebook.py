"""What a notebook shows of a number, a sheet or a belief: plain tables, every text escaped, no script, no style.

A notebook asks an object for ``_repr_html_``; the classes of the rooms answer with the functions here.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any

from asfound.quantities.display import chance, interval_text, show
from asfound.quantities.register import quantity
from asfound.sources.register import cite

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from asfound.quantities.words import Finding, Result
    from asfound.quantities.worked import Worked

MOST = 60
"""Rows that a notebook shows; the rest is counted. All of them are in the columns."""


def html_table(head: Sequence[str], rows: Iterable[Sequence[Any]], *, title: str = "", total: int | None = None) -> str:
    """Return a table.

    Parameters
    ----------
    head : sequence of str
        Words above the columns.
    rows : iterable
        Cells, written as text.
    title : str
        Caption.
    total : int, optional
        How many rows there are where only the first are given.
    """
    kept = [list(one) for one in rows]
    caption = f"<caption>{escape(title)}</caption>" if title else ""
    top = "".join(f'<th scope="col">{escape(one)}</th>' for one in head)
    body = "".join("<tr>" + "".join(f"<td>{escape(str(cell))}</td>" for cell in row) + "</tr>" for row in kept)
    more = f"<p>{total - len(kept)} more</p>" if total is not None and total > len(kept) else ""
    return f"<table>{caption}<thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>{more}"


def paragraphs(*lines: str) -> str:
    """Return lines of text, those without words left out."""
    return "".join(f"<p>{escape(one)}</p>" for one in lines if one)


def result_html(result: Result) -> str:
    """Return a result with its interval, method, source, cautions, and what was assumed."""
    rows = [
        ("value", " ".join(_shown(result)[:2]).strip()),
        ("95 %", _shown(result)[2]),
        ("state, place", f"{result.state.replace('_', ' ')}, {result.place.replace('_', ' ')}"),
        ("method", result.method.name),
        ("source", cite(result.method.source, result.method.clause)),
        ("assumed", ", ".join(quantity(one.quantity).title for one in result.assumed)),
        ("outside", "; ".join(result.outside)),
        ("cautions", ", ".join(result.cautions)),
    ]
    return html_table(("", ""), [one for one in rows if one[1]], title=quantity(result.quantity).title)


def worked_html(worked: Worked) -> str:
    """Return the results of a sheet, one row each."""
    rows = [
        (
            one.state.replace("_", " "),
            one.place.replace("_", " "),
            quantity(one.quantity).title,
            *_shown(one),
            one.method.name,
        )
        for one in worked.results[:MOST]
    ]
    head = ("state", "place", "quantity", "value", "unit", "95 %", "method")
    title = f"{len(worked.results)} results from {len(worked.readings)} readings, {worked.number:,} draws"
    return html_table(head, rows, title=title, total=len(worked.results))


def finding_html(finding: Finding) -> str:
    """Return a finding with its chance and the next step."""
    rows = [
        ("says", finding.says),
        ("severity", finding.severity),
        ("chance", chance(finding.probability) if finding.probability is not None else ""),
        ("next", finding.next_step),
        ("cautions", ", ".join(finding.cautions)),
    ]
    return html_table(("", ""), [one for one in rows if one[1]], title=finding.code)


def _shown(one: Result) -> tuple[str, str, str]:
    text = show(one.value, one.quantity, interval=one.interval)
    return text.value, text.unit, interval_text(text.value, text.low, text.high)
