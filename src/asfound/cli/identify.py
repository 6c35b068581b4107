"""`asfound identify`: from a file of observations to belief, without a record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from asfound.cli.answer import answer, ready
from asfound.cli.options import Out
from asfound.cli.worded import told
from asfound.errors import InputError

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue
    from asfound.fitout.identification import Identification
    from asfound.fitout.observations import Observations

EngineState = Literal["running", "stopped", "isolated"]


def identify(
    file: Path | None = None,
    /,
    *,
    story: str = "",
    catalogue: Path | None = None,
    allowed: tuple[EngineState, ...] = (),
    looks: int = 5,
    out: Out = Out(),
) -> None:
    """Say what is fitted from a file of observations (YAML or JSON); docs/observations.md shows one.

    Parameters
    ----------
    file
        Observations: what is known of the engine, and what was seen.
    story
        One of the packaged stories instead of a file: a1, a2, a3, n1, n2, d1, d2.
    catalogue
        Folder of a catalogue; without it the one that ships with the program.
    allowed
        State of the engine in which a look may be made now, several; else what the file says.
    looks
        Most looks to propose.
    """
    from asfound.fitout.catalogue import load_catalogue
    from asfound.fitout.identify import identify as find

    said = _observations(file, story)
    loaded = load_catalogue(catalogue)
    found = find(loaded, said.engine, said.looks, allowed=allowed or said.allowed)
    answer(out, _data(found, loaded), lambda: told(found, most=looks))


def _observations(file: Path | None, story: str) -> Observations:
    from asfound.fitout import observations

    if (file is None) == (not story):
        raise InputError("file", str(file or ""), "or --story: say one of them", try_next="asfound identify FILE")
    if file is None:
        return observations.story(story)
    try:
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as fault:
        raise InputError("file", str(file), f"cannot be read ({fault})") from fault
    return observations.parse_observations(text, file=str(file))


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
