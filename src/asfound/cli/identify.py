"""`asfound identify`: from a file of observations to belief, without a record."""

from __future__ import annotations

import json
from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, cast

from asfound.cli.answer import answer, ready
from asfound.cli.options import Out
from asfound.cli.worded import told
from asfound.errors import InputError, UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asfound.fitout.catalogue import Catalogue
    from asfound.fitout.identification import Identification
    from asfound.fitout.identify import EngineFacts
    from asfound.fitout.looks import SeenLook

ALLOWED = ("running", "stopped", "isolated")


def identify(
    file: Path,
    /,
    *,
    catalogue: Path | None = None,
    allowed: tuple[Literal["running", "stopped", "isolated"], ...] = (),
    looks: int = 5,
    out: Out = Out(),
) -> None:
    """Say what is fitted from a file of observations (YAML or JSON); docs/observations.md shows one.

    Parameters
    ----------
    file
        Observations: ``engine`` with what is known of it, ``looks`` with what was seen.
    catalogue
        Folder of a catalogue; without it the one that ships with the program, or the one that the file names.
    allowed
        States of the engine in which a look may be made now; may be given several times. Without it: the engine's own
        state and what is easier.
    looks
        Most looks to propose.
    """
    from asfound.fitout.catalogue import load_catalogue
    from asfound.fitout.identify import identify as find

    said = _read(file)
    engine = _engine(said.get("engine"))
    seen = _looks(said.get("looks", []))
    named = catalogue or (file.parent / said["catalogue"] if said.get("catalogue") else None)
    states = allowed or tuple(said.get("allowed", ())) or ALLOWED[: ALLOWED.index(engine.state) + 1]
    for state in states:
        if state not in ALLOWED:
            raise InputError("allowed", str(state), "is no state of an engine", allowed=", ".join(ALLOWED))
    loaded = load_catalogue(named)
    found = find(loaded, engine, seen, allowed=states)
    answer(out, _data(found, loaded), lambda: told(found, most=looks))


def _data(found: Identification, catalogue: Catalogue) -> dict[str, Any]:
    """Return the whole answer; first what most programs want: belief per lineage and per slot."""
    whole = found.as_dict()
    return {
        "words": found.words,
        "lineages": {one.name: one.probability for one in found.builds},
        "slots": {one.slot: {v.name: v.probability for v in one.variants} for one in found.places},
        "contradictions": ready(found.contradictions),
        "next_looks": ready(found.next_looks),
        "explanations": {
            "weights": ready(found.weights),
            "weights_prior": found.weights_prior,
            "weights_total": found.weights_total,
            "leader": found.leader,
            "runner_up": found.runner_up,
            "why_not": ready(found.why_not),
            "hangs_on": ready(found.hangs_on),
            "stop": ready(found.stop),
        },
        "catalogue": {"name": catalogue.name, "digest": catalogue.digest},
        "identification": whole,
    }


def _read(file: Path) -> dict[str, Any]:
    """Return the file as a mapping with known sections."""
    try:
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as fault:
        raise InputError("file", str(file), f"cannot be read ({fault})") from fault
    try:
        said: Any = json.loads(text) if file.suffix.lower() == ".json" else _yaml(text, str(file))
    except json.JSONDecodeError as fault:
        raise InputError("file", str(file), f"is no JSON: {fault}") from fault
    if not isinstance(said, dict):
        raise InputError("file", str(file), "is not a mapping", allowed="engine: ... and looks: [...]")
    known = ("engine", "looks", "allowed", "catalogue", "note")
    for name in said:
        if name not in known:
            raise UnknownNameError("section of a file of observations", str(name), known)
    return said


def _yaml(text: str, file: str) -> Any:
    from asfound.sources.yaml_lines import load

    return load(text, file=file).plain()


def _engine(said: Any) -> EngineFacts:
    from asfound.fitout.identify import EngineFacts

    if not isinstance(said, dict) or not said.get("tag"):
        raise InputError(
            "engine", str(said or ""), "must at least have a tag", try_next="Write  engine: {tag: A1, family: HM9}"
        )
    _only(said, EngineFacts, "field of the engine")
    plain = {name: tuple(value) if isinstance(value, list) else value for name, value in said.items()}
    return cast("EngineFacts", cast("Any", EngineFacts)(**plain))


def _looks(said: Any) -> Sequence[SeenLook]:
    from asfound.fitout.looks import SeenLook

    if not isinstance(said, list):
        raise InputError(
            "looks",
            str(said),
            "is not a list",
            try_next="Write one look per line: - {slot: ..., character: ..., states: [...]}",
        )
    found = []
    for number, one in enumerate(said, 1):
        if not isinstance(one, dict) or not one.get("slot"):
            raise InputError(f"looks[{number}]", str(one), "has no slot")
        _only(one, SeenLook, f"field of look {number}")
        states = one.get("states", ())
        states = (states,) if isinstance(states, str) else tuple(str(state) for state in states)
        found.append(SeenLook(**{**one, "states": states}))
    return found


def _only(said: dict[str, Any], kind: Any, what: str) -> None:
    known = [one.name for one in fields(kind)]
    for name in said:
        if name not in known:
            raise UnknownNameError(what, str(name), known)
