"""What templates ask about an identification: its parts for a bar, titles, and captions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from asfound.fitout.identification import Identification
    from asfound.fitout.identify import BuildsOnly
    from asfound.records.entries import Entry
    from asfound.records.summary import Summary
    from asfound.report.svg import Share

MOST_PARTS = 5


def shares(seen: Identification | BuildsOnly | Summary, order_of: Identification | None = None) -> list[Share]:
    """Return the builds as parts of one bar; in the order of another belief, so that the two can be compared."""
    from asfound.report.svg import Share

    names = [one.name for one in (order_of or seen).builds]
    builds: list[Any] = sorted(seen.builds, key=lambda one: names.index(one.name) if one.name in names else len(names))
    named = [one for one in builds if one.kind != "other"]
    parts = [Share(one.title, one.probability) for one in named[:MOST_PARTS]]
    rest = sum(one.probability for one in named[MOST_PARTS:])
    if rest > 0:
        parts.append(Share("others", rest))
    return [*parts, Share("not in the catalogue", seen.other, other=True)]


def chance_of(seen: Identification | BuildsOnly, build: str) -> float:
    """Return how probable a build is; nought where it is not among them."""
    return next((one.probability for one in seen.builds if one.name == build), 0.0)


def title_of(seen: Identification, build: str) -> str:
    """Return the title of a build."""
    return next((one.title for one in seen.builds if one.name == build), build)


def caption_of(drawing: Any) -> tuple[str, ...]:
    """Return the sentences that belong under a drawing."""
    from asfound.report.svg import drawing_caption

    return drawing_caption(drawing)


def state_titles(panel: Any, look: Entry) -> str:
    """Return what was ticked in a look, in the words of the catalogue."""
    titles = {(ask.name, state): title for ask in panel.asks for state, title, _ in ask.options}
    character = str(look.content.get("character", ""))
    return " or ".join(titles.get((character, one), str(one)) for one in look.content.get("states", ()))


def drawing_of_engine(content: Any) -> Any:
    """Return what the plan of an engine is drawn from; None where its layout is not known."""
    from asfound.report.svg import drawing_of_engine as made

    return made(content)
