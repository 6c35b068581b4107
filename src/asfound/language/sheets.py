"""Templates of the typesetter in the reader's language: the words in their content blocks and texts, replaced at load.

A run is what stands in ``[...]`` between pieces of code; ``#name.of.value`` and ``#call(...)`` without a content block
of its own are places. ``#c.draws draws of all readings`` is ``{0} draws of all readings``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    Look = Callable[[str], str | None]

_STRING = re.compile(r'"((?:[^"\\\n]|\\.)*)"')
_COMMENT = re.compile(r"//[^\n]*")
_NAME = re.compile(r"[A-Za-z_][\w-]*")
_CHOICE = re.compile(r"\s*else\b")
_WORD = re.compile(r"[^\W\d_]{2,}")
_PLACE = re.compile(r"\{(\d+)\}")
_NO_WORDS_BEHIND = re.compile(
    r"(?:==|!=|\bin|\.at\(|lang:|font:|format:|paper:|relationship:|mime-type:|json\(|import|\.join\(|attach\(|rgb\(|width:|split\(|kind:)\s*$"
)  # fmt: skip
_HEADING = re.compile(r"(?:(?<=\n)|\A)(=+) +")


@dataclass(frozen=True, slots=True)
class Run:
    """Text with places, and where it stands in the source."""

    start: int
    end: int
    text: str
    places: tuple[str, ...]
    quoted: bool = False


def messages(source: str) -> Iterator[Run]:
    """Yield what a template says, in order."""
    yield from _Scan(source).runs


def translated(source: str, look: Look, *, language: str = "") -> str:
    """Return a template with what it says replaced; ``look`` gives None where there is no translation.

    In another language than English words are hyphenated: German ones do not fit narrow columns.
    """
    out, at = "", 0
    for run in _Scan(source).runs:
        said = look(run.text)
        if said is None:
            continue
        said = said.replace("\\", "\\\\").replace('"', '\\"') if run.quoted else _escaped(said)
        out += source[at : run.start] + _PLACE.sub(lambda found: _put(run, int(found[1])), said)  # noqa: B023
        at = run.end
    out += source[at:]
    if language:
        out = out.replace('lang: "en"', f'lang: "{language}"').replace("hyphenate: false", "hyphenate: true")
    return out


def _put(run: Run, place: int) -> str:
    """Return the code at a place; parted from a letter or bracket behind it that would belong to the code."""
    return f"{run.places[place]};" if place < len(run.places) else ""


def _escaped(text: str) -> str:
    """Return a text as markup: signs that the typesetter would take for its own are escaped."""
    return re.sub(r"([#*_`$<>@\[\]\\~])", r"\\\1", text)


class _Scan:
    """One reading of a template, from its first sign to its last."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.runs: list[Run] = []
        self._markup(0, top=True)
        self.runs.sort(key=lambda run: run.start)

    def _note(self, start: int, end: int, said: str, places: list[str]) -> None:
        lead = len(said) - len(said.lstrip())
        core = " ".join(said.split())
        if not _WORD.search(_PLACE.sub("", core)):
            return
        if said[:lead] and not said.startswith("{"):
            start += lead
        tail = len(said) - len(said.rstrip())
        self.runs.append(Run(start, end - tail, core, tuple(places)))

    def _markup(self, at: int, *, top: bool = False) -> int:
        """Read markup up to the bracket that ends it; return where it ends."""
        source, start, said = self.source, at, ""
        places: list[str] = []

        def close() -> None:
            nonlocal said, places
            self._note(start, at, said, places)
            said, places = "", []

        while at < len(source):
            sign = source[at]
            heading = _HEADING.match(source, at) if top else None
            if sign == "]" and not top:
                close()
                return at + 1
            if comment := (_COMMENT.match(source, at) if sign == "/" else None):
                close()
                at = start = comment.end()
            elif heading:
                close()
                at = start = heading.end()
            elif top and sign == "\n":
                close()
                at = start = at + 1
            elif sign == "\\":
                close()
                at = start = at + (1 if source[at + 1 : at + 2].isspace() else 2)
            elif sign == "[":
                close()
                at = start = self._markup(at + 1)
            elif sign == "#":
                end, place = self._code_in_markup(at)
                if place:
                    said += f"{{{len(places)}}}"
                    places.append(source[at:end])
                    at = end
                else:
                    close()
                    at = start = end
            else:
                said += sign
                at += 1
        close()
        return at

    def _code_in_markup(self, at: int) -> tuple[int, bool]:
        """Return where a piece of code ends, and whether it is a plain value."""
        source = self.source
        name = _NAME.match(source, at + 1)
        if name is None:
            return (self._group(at + 1) if source[at + 1 : at + 2] in {"(", "{", "["} else at + 1), False
        if name[0] in {"let", "set", "show", "import"}:
            return self._statement(name.end()), False
        if name[0] in {"if", "for", "while", "context"}:
            return self._branches(name.end()), False
        end, plain = name.end(), True
        while end < len(source):
            if source[end] == "(":
                before = len(self.runs)
                end = self._group(end)
                plain = plain and len(self.runs) == before
            elif source[end] == "[":
                end, plain = self._markup(end + 1), False
            elif source[end] == "." and (behind := _NAME.match(source, end + 1)):
                end = behind.end()
            else:
                break
        return end, plain

    def _branches(self, at: int) -> int:
        """Read a condition or loop with its blocks."""
        source = self.source
        while at < len(source):
            sign = source[at]
            if sign == '"':
                at = self._string(at)
            elif sign == "(":
                at = self._group(at)
            elif sign in "[{":
                at = self._group(at)
                other = _CHOICE.match(source, at)
                if not other:
                    return at
                at = other.end()
            elif sign == "\n":
                return at
            else:
                at += 1
        return at

    def _statement(self, at: int) -> int:
        """Read code up to the end of its line."""
        return self._code(at, "\n")

    def _group(self, at: int) -> int:
        """Read what is in brackets of any kind; return where it ends."""
        if self.source[at] == "[":
            return self._markup(at + 1)
        return self._code(at + 1, {"(": ")", "{": "}"}[self.source[at]]) + 1

    def _code(self, at: int, end: str) -> int:
        """Read code up to a sign that ends it; return where that stands."""
        source = self.source
        while at < len(source) and source[at] != end:
            if source[at] == '"':
                at = self._string(at)
            elif source[at] in "([{":
                at = self._group(at)
            elif comment := _COMMENT.match(source, at):
                at = comment.end()
            else:
                at += 1
        return at

    def _string(self, at: int) -> int:
        """Read a text in code; it is noted where a person reads it."""
        found = _STRING.match(self.source, at)
        if found is None:
            return at + 1
        said, before = found[1], self.source[max(0, at - 30) : at]
        if (
            (said[:1].isupper() or " " in said.strip())
            and _WORD.search(said)
            and not _NO_WORDS_BEHIND.search(before)
            and "Hyperlegible" not in said
            and not said.endswith((" Serif", " Sans Mono"))
        ):
            core = said.strip()
            self.runs.append(
                Run(
                    found.start(1) + said.index(core),
                    found.start(1) + said.index(core) + len(core),
                    core,
                    (),
                    quoted=True,
                )
            )
        return found.end()
