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
stand in the file too: words for the reader, and what is really fitted where it is known (stories, confirmed visits).
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.errors import UnknownNameError
from asfound.fitout.engine_facts import EngineFacts
from asfound.fitout.looks import ANSWERS, HOWS, SeenLook
from asfound.fitout.schema_words import whole
from asfound.sources import yaml_lines
from asfound.sources.yaml_lines import Node

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

STORIES = ("a1", "a2", "a3", "n1", "n2", "d1", "d2")
TOP = ("about", "engine", "allowed", "looks", "truth")


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
    if build := node.get("build"):
        build.text()
    for place in places.mapping().values() if (places := node.get("places")) else ():
        place.text()
    plain: dict[str, Any] = node.plain()
    return plain


def _engine(node: Node) -> EngineFacts:
    given = _fields(node, EngineFacts, _OF_AN_ENGINE)
    node.want("tag")
    return EngineFacts(**given)


def _look(node: Node) -> SeenLook:
    given = _fields(node, SeenLook, _OF_A_LOOK)
    node.want("slot")
    return SeenLook(**given)


def _fields(node: Node, of: type, readers: Mapping[str, Callable[[Node], Any]]) -> dict[str, Any]:
    """Return what stands under the names of a dataclass, each read as its kind; text where no reader is named."""
    node.only(*(one.name for one in fields(of)))
    return {name: readers.get(name, _text)(one) for name, one in node.mapping().items()}


def _text(node: Node) -> str:
    """Return text; a number is pointed out, because 007 and 7 are not the same label."""
    if isinstance(node.value, int | float) and not isinstance(node.value, bool):
        raise node.error("this is a number where text is wanted.", allowed=f"quotes round it: '{node.value}'")
    return node.text()


def _word(node: Node) -> str:
    """Return a word of a list, where a number is a word too (a count that was seen)."""
    if isinstance(node.value, str | int) and not isinstance(node.value, bool):
        return str(node.value)
    return node.text()


def _words(node: Node) -> tuple[str, ...]:
    return tuple(_word(one) for one in node.items())


def _plate(node: Node) -> dict[str, str]:
    return {name: _word(one) for name, one in node.mapping().items()}


def _one_of(*choices: str) -> Callable[[Node], str]:
    return lambda node: node.one_of(choices)


def _or_unknown(read: Callable[[Node], Any]) -> Callable[[Node], Any]:
    """Return a reader to which null means: not known."""
    return lambda node: None if node.value is None else read(node)


_OF_AN_ENGINE: Mapping[str, Callable[[Node], Any]] = {
    "driven": _one_of("compressor", "generator", ""),
    "layout": _one_of("inline", "vee", ""),
    "cylinders": lambda node: whole(node, 0, 24),
    "turbochargers": _or_unknown(lambda node: whole(node, 0, 8)),
    "catalyst": _or_unknown(Node.truth),
    "bearings_measured": _or_unknown(Node.truth),
    "state": _one_of("running", "stopped", "isolated"),
    "plate": _plate,
    "in_store": _words,
    "papers": _words,
    "hydrogen_sulphide": _or_unknown(lambda node: node.number(low=0, high=1)),
}
_OF_A_LOOK: Mapping[str, Callable[[Node], Any]] = {
    "answer": _one_of(*ANSWERS),
    "how": _one_of(*HOWS),
    "states": _words,
}
