"""What the scripts of the pages say, in the reader's language: the few texts are replaced when a script is served."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

_PLACE = re.compile(r"\{(\d+)\}")


@dataclass(frozen=True, slots=True)
class Said:
    """A piece of a script, and what it says; a second message holds where ``one`` is not so."""

    code: str
    message: str
    places: tuple[str, ...] = ()
    one: str = ""
    many: str = ""


OUTBOX: Final = (
    Said("`Kept here ${clock(last)}, `", "Kept here {0}, ", ("clock(last)",)),
    Said('state === "not" ? "Not kept"', "Not kept"),
    Said('`${n} wait${n === 1 ? "s" : ""}`', "{0} waits", ("n",), "n === 1", "{0} wait"),
    Said("`Kept ${clock(Date.now())}`", "Kept {0}", ("clock(Date.now())",)),
    Said("` no answer since ${clock(box[0].at)}`", " no answer since {0}", ("clock(box[0].at)",)),
    Said(
        '`Not kept: ${refused.at(-1).says || "an entry"}. ${refused.at(-1).refused}`',
        "Not kept: {0}. {1}", ('refused.at(-1).says || ""', "refused.at(-1).refused"),
    ),
    Said(
        '`Kept on this device, ${n} ${n === 1 ? "entry waits" : "entries wait"}${why ? `: ${why}` : ""}. '
        "Sent by itself as soon as it can be.`",
        "Kept on this device, {0} entry waits{1}. Sent by itself as soon as it can be.",
        ("n", 'why ? `: ${why}` : ""'), "n === 1",
        "Kept on this device, {0} entries wait{1}. Sent by itself as soon as it can be.",
    ),
    Said('"What waits here"', "What waits here"),
    Said('"the laptop does not answer"', "the laptop does not answer"),
    Said('"the program does not answer"', "the program does not answer"),
    Said('"the program could not keep it"', "the program could not keep it"),
    Said('"this device is not let in any more"', "this device is not let in any more"),
    Said("`The laptop refused it (${answer.status}).`", "The laptop refused it ({0}).", ("answer.status",)),
    Said('"the box on this device cannot be written"', "the box on this device cannot be written"),
    Said(
        '"Not kept: this device has no room left, or may keep nothing. What you typed stays on this page only."',
        "Not kept: this device has no room left, or may keep nothing. What you typed stays on this page only.",
    ),
)  # fmt: skip
TABLET: Final = (
    Said('" pages are not kept: trust the laptop first"', " pages are not kept: trust the laptop first"),
    Said('"Send it again"', "Send it again"),
    Said('"Forget it"', "Forget it"),
    Said('"To its page"', "To its page"),
    Said('"Nothing waits here."', "Nothing waits here."),
)
SCRIPTS: Final[Mapping[str, tuple[Said, ...]]] = {"outbox.js": OUTBOX, "tablet.js": TABLET}


def messages() -> Iterator[str]:
    """Yield what the scripts say."""
    for every in SCRIPTS.values():
        for said in every:
            yield said.message
            if said.many:
                yield said.many


def translated(name: str, source: str, look: Callable[[str], str | None]) -> str:
    """Return a script with what it says replaced; ``look`` gives None where there is no translation."""
    for said in SCRIPTS.get(name, ()):
        one = _code(said.message, said.places, look)
        if one is None:
            continue
        many = _code(said.many, said.places, look) if said.many else None
        new = f"({said.one} ? {one} : {many or one})" if said.many else one
        if said.code.startswith("state"):
            new = f'state === "not" ? {one}'
        source = source.replace(said.code, new)
    return source


def _code(message: str, places: tuple[str, ...], look: Callable[[str], str | None]) -> str | None:
    """Return a translation as an expression of the script; it may hold any sign and stays text."""
    core = look(message.strip())
    if core is None:
        return None
    lead, tail = message[: len(message) - len(message.lstrip())], message[len(message.rstrip()) :]
    parts = _PLACE.split(lead + core + tail)
    said = [f"({places[int(part)]})" if i % 2 else json.dumps(part, ensure_ascii=False) for i, part in enumerate(parts)]
    return "(" + " + ".join(one for one in said if one != '""') + ")"
