"""Files of observations: the facts of an engine and what was seen of it, as somebody would write them down.

A file is YAML or JSON with an ``engine`` and a list of ``looks``::

    engine: {tag: A2, family: HM9, driven: compressor}
    allowed: [running]              # states of the engine in which a look may be made now; running where left out
    looks:
    - {slot: nameplate, character: generation, states: [moldrevane_d], how: plate, source: plate}
    - {slot: speed_controller, character: plugs, states: [round_screwed], how: at_part, time: "2032-07-08T10:32-06:00"}
    - {slot: speed_controller, character: label, label: "M.2?..6", how: at_part}
    - {slot: traces, answer: not_there}
    - {slot: head_piston, answer: not_judged, note: insulated}

Keys of ``engine`` are the fields of `EngineFacts`, keys of a look those of `SeenLook`. ``about`` and ``truth`` may
stand
in the file too: words for the reader, and what is really fitted where it is known (stories, confirmed visits).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.errors import UnknownNameError
from asfound.fitout.identify import EngineFacts
from asfound.fitout.looks import ANSWERS, HOWS, SeenLook
from asfound.sources import yaml_lines

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.sources.yaml_lines import Node

STORIES = ("a1", "a2", "a3", "n1", "n2", "d1", "d2")
TOP = ("about", "engine", "allowed", "looks", "truth")
_TUPLES = ("states", "in_store", "papers")


@dataclass(frozen=True, slots=True, kw_only=True)
class Observations:
    """What a file of observations holds."""

    engine: EngineFacts
    looks: tuple[SeenLook, ...]
    allowed: tuple[str, ...] = ("running",)
    about: str = ""
    truth: Mapping[str, Any] | None = None
    """``build``: name of the build; ``places``: slot to variant, for what is known."""


def load_observations(path: str | Path) -> Observations:
    """Return what a file of observations holds (YAML; JSON is YAML too).

    Raises
    ------
    KnowledgeError
        With file, line and column.
    """
    return read_observations(yaml_lines.load(Path(path)))


def parse_observations(text: str, *, file: str = "observations") -> Observations:
    """Return what the text of a file of observations holds; KnowledgeError as in `load_observations`."""
    return read_observations(yaml_lines.load(text, file=file))


def story(name: str) -> Observations:
    """Return one of the packaged stories of the invented world: ``a1``, ``a2``, ``a3``, ``n1``, ``n2``, ``d1``, ``d2``.

    Raises
    ------
    UnknownNameError
    """
    if name.lower() not in STORIES:
        raise UnknownNameError("story", name, STORIES)
    text = (files("asfound.fitout") / "data" / "stories" / f"{name.lower()}.yaml").read_text(encoding="utf-8")
    return parse_observations(text, file=f"stories/{name.lower()}.yaml")


def read_observations(root: Node) -> Observations:
    """Return what stands under the root of a file; KnowledgeError points at the place."""
    root.only(*TOP)
    engine, looks = root.want("engine", "looks")
    allowed, truth, about = root.get("allowed"), root.get("truth"), root.get("about")
    return Observations(
        engine=_engine(engine),
        looks=tuple(_look(one) for one in looks.items()),
        allowed=tuple(one.one_of(("running", "stopped", "isolated")) for one in allowed.items())
        if allowed
        else ("running",),
        about=about.text() if about else "",
        truth=_truth(truth) if truth else None,
    )


def _truth(node: Node) -> dict[str, Any]:
    node.only("build", "places")
    plain: dict[str, Any] = node.plain()
    return plain


def _engine(node: Node) -> EngineFacts:
    node.only(*(one.name for one in fields(EngineFacts)))
    node.want("tag")
    given = {name: _plain(name, one) for name, one in node.mapping().items()}
    choices = {
        "driven": ("compressor", "generator", ""),
        "layout": ("inline", "vee", ""),
        "state": ("running", "stopped", "isolated"),
    }
    for name, allowed in choices.items():
        if found := node.get(name):
            found.one_of(allowed)
    return EngineFacts(**given)


def _look(node: Node) -> SeenLook:
    node.only(*(one.name for one in fields(SeenLook)))
    node.want("slot")
    for name, allowed in (("answer", ANSWERS), ("how", HOWS)):
        if found := node.get(name):
            found.one_of(allowed)
    return SeenLook(**{name: _plain(name, one) for name, one in node.mapping().items()})


def _plain(name: str, node: Node) -> Any:
    if name in _TUPLES:
        return tuple(str(one.value) for one in node.items())
    value = node.plain()
    if isinstance(value, int | float) and not isinstance(value, bool) and name in ("label", "works_number", "time"):
        raise node.error("this is a number where text is wanted.", allowed=f"quotes round it: '{value}'")
    if name == "plate":
        return {key: str(one) for key, one in node.plain().items()}
    return value
