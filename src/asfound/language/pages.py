"""Templates of pages in the reader's language: their own text is replaced once, when a template is loaded.

The text between elements is read in runs: a run goes on over places (``{{ ... }}``) and over elements within a line
(``<b>``, ``<a>``, ``<span>`` ...), and ends at any other element and at each ``{% ... %}``. A run is one message:
``<b>{{ n }}</b> of {{ m }} places`` is ``<1>{0}</1> of {1} places``. What a place gives is told when the page is made.
Values of forms, addresses, names and classes are never touched.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    Look = Callable[[str], str | None]

_JINJA = re.compile(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", re.DOTALL)
_FIRST_MASK: Final = 0xF0000
_MASK = re.compile("[\U000f0000-\U000fffff]")
_TAG = re.compile(
    r"<!--.*?-->|<!\w[^>]*>|<(?P<end>/?)(?P<name>[a-zA-Z][\w-]*)(?:[^<>\"']|\"[^\"]*\"|'[^']*')*>", re.DOTALL
)
_SHOWN_ATTRIBUTE = re.compile(
    r"(?P<head>(?<![\w-])(?:title|aria-label|placeholder|alt|label|data-say)=\")(?P<value>[^\"]*)\""
)
_INLINE: Final = frozenset(
    {"a", "b", "i", "em", "strong", "small", "span", "code", "sup", "sub", "abbr", "time", "kbd"}
)
_VOID: Final = frozenset({"br", "wbr"})
_LEFT_ALONE: Final = frozenset({"script", "style", "textarea", "svg", "pre"})
_PLAIN: Final = frozenset({"option", "title"})
"""No element may stand inside these: what is not known cannot be marked as English."""
_WORD = re.compile(r"[^\W\d_]{2,}")
_PLACE = re.compile(r"\{(\d+)\}|<(/?)(\d+)(/?)>")
_OPEN_EXPRESSION = re.compile(r"^\{\{([-+]?)(.*?)([-+]?)\}\}$", re.DOTALL)
_LEFT_AS_IT_IS = re.compile(
    r"\|\s*as_written\b|^\s*(?:draw|caller|super)\b|\bstatic\("
    r"|^\s*(?:[\w.]+\.)?(?:who|tag|as_typed|serial|person|filename|given|typed|works_number|statement)\s*$"
    r"|^\s*(?:account|folder|c\.text|c\.number|signed_in\.name)\s*$"
    r"|\bcontent\.(?:text|note|caption|name|number|serial|statement)\b"
)
"""Pictures tell their own words; what a person wrote stays, and so do names of people, engines and files."""
_DRAWN = re.compile(r"^\{\{[-+]?\s*draw\.")
_HTML_LANGUAGE = re.compile(r"(<html\b[^>]*?\blang=\")en\"")


@dataclass(frozen=True, slots=True)
class Piece:
    """Part of a run: text, a place, an element's start or end, or an empty element."""

    kind: str
    """``text``, ``place``, ``start``, ``end``, ``empty``."""
    raw: str
    name: str = ""


@dataclass(frozen=True, slots=True)
class Message:
    """What a template says, with the expressions at its places."""

    text: str
    places: tuple[str, ...]


class _Masked:
    """A template whose Jinja parts are each one character of a private plane, so that its elements can be found."""

    def __init__(self, source: str) -> None:
        self.parts: list[str] = []

        def mask(found: re.Match[str]) -> str:
            self.parts.append(found[0])
            return chr(_FIRST_MASK + len(self.parts) - 1)

        self.text = _JINJA.sub(mask, source)

    def part(self, sign: str) -> str:
        return self.parts[ord(sign) - _FIRST_MASK]

    def is_place(self, sign: str) -> bool:
        return self.part(sign).startswith("{{")

    def unmask(self, text: str) -> str:
        return _MASK.sub(lambda found: self.part(found[0]), text)


def translated(source: str, look: Look, *, language: str = "") -> str:
    """Return a template with its text replaced, and with each place that lands in text told.

    Parameters
    ----------
    source : str
        The template.
    look : callable
        Gives the translation of a message, None where there is none: then the English stays.
    language : str
        Set as the language of the page.
    """
    if language:
        source = _HTML_LANGUAGE.sub(rf'\g<1>{language}"', source)
    masked = _Masked(source)
    out = [
        masked.unmask(raw) if pieces is None else _written(pieces, look, plain=plain)
        for raw, pieces, plain in _segments(masked, lambda value: _attribute(value, masked, look))
    ]
    return "".join(out)


def messages(source: str) -> Iterator[Message]:
    """Yield what a template says, in order."""
    masked = _Masked(source)
    found: list[Message] = []

    def note(message: str, places: list[str]) -> None:
        found.append(Message(message, tuple(_inside(one) for one in places)))

    def attribute(value: str) -> str:
        _attribute(value, masked, None, note)
        return value

    for _, pieces, plain in _segments(masked, attribute):
        if pieces is not None:
            _written(pieces, None, plain=plain, note=note)
    yield from found


def _segments(masked: _Masked, attribute: Callable[[str], str]) -> Iterator[tuple[str, list[Piece] | None, bool]]:
    """Yield what is left alone as text, and each run as its pieces with whether no element may stand in it."""
    at, within = 0, ""
    run: list[Piece] = []
    text = masked.text

    def texts(part: str) -> Iterator[list[Piece] | str]:
        for bit in re.split("([\U000f0000-\U000fffff])", part):
            if not bit:
                continue
            if _MASK.match(bit):
                yield [Piece("place", masked.part(bit))] if masked.is_place(bit) else bit
            else:
                yield [Piece("text", bit)]

    for tag in [*_TAG.finditer(text), None]:
        before = text[at : tag.start() if tag else len(text)]
        if within in _LEFT_ALONE and not (tag and tag["end"] and tag["name"] == within):
            yield before + (tag[0] if tag else ""), None, False
            at = tag.end() if tag else len(text)
            continue
        if within in _LEFT_ALONE:
            yield before, None, False
        else:
            for bit in texts(before):
                if isinstance(bit, str):  # a statement or a comment ends the run
                    yield "", run, within in _PLAIN
                    run = []
                    yield bit, None, False
                else:
                    run.extend(bit)
        if tag is None:
            break
        at, name = tag.end(), tag["name"] or ""
        raw = _SHOWN_ATTRIBUTE.sub(lambda found: f'{found["head"]}{attribute(found["value"])}"', tag[0])
        if name in _INLINE:
            run.append(Piece("end" if tag["end"] else "start", masked.unmask(raw), name))
        elif name in _VOID:
            run.append(Piece("empty", masked.unmask(raw), name))
        else:
            yield "", run, within in _PLAIN
            run = []
            yield raw, None, False
            if name in _LEFT_ALONE | _PLAIN:
                within = "" if tag["end"] else name
    yield "", run, within in _PLAIN


def _attribute(
    value: str, masked: _Masked, look: Look | None, note: Callable[[str, list[str]], None] | None = None
) -> str:
    """Return the value of an attribute that is shown or read out."""
    out: list[str] = []
    run: list[Piece] = []
    for bit in re.split("([\U000f0000-\U000fffff])", value):
        if bit and _MASK.match(bit) and not masked.is_place(bit):
            out.append(_written(run, look, plain=True, note=note) + masked.part(bit))
            run = []
        elif bit:
            run.append(Piece("place", masked.part(bit)) if _MASK.match(bit) else Piece("text", bit))
    out.append(_written(run, look, plain=True, note=note))
    return "".join(out)


def _written(
    pieces: list[Piece],
    look: Look | None,
    *,
    plain: bool,
    note: Callable[[str, list[str]], None] | None = None,
) -> str:
    """Return a run in the reader's language; ``note`` is told each message in it."""
    out = []
    for part in _balanced(pieces):
        head, core, tail = _core(part)
        said = "".join(_told(one, plain=plain) for one in head)
        message, places, elements = _message(core)
        if _WORD.search(_PLACE.sub(" ", message)):
            if note is not None:
                note(message, places)
            translation = look(message) if look is not None else None
            lead, trail = _outer_space(core)
            if translation is None:
                said += "".join(_told(one, plain=plain) for one in core)
            else:
                said += lead + _filled(translation, places, elements, plain=plain) + trail
        else:
            said += "".join(_told(one, plain=plain) for one in core)
        out.append(said + "".join(_told(one, plain=plain) for one in tail))
    return "".join(out)


def _balanced(pieces: list[Piece]) -> Iterator[list[Piece]]:
    """Yield a run in parts in which each element that begins also ends; a run of elements alone, one by one."""
    partner: dict[int, int] = {}
    open_ones: list[int] = []
    for i, piece in enumerate(pieces):
        if piece.kind == "start":
            open_ones.append(i)
        elif piece.kind == "end" and open_ones and pieces[open_ones[-1]].name == piece.name:
            start = open_ones.pop()
            partner[start], partner[i] = i, start
    part: list[Piece] = []
    for i, piece in enumerate(pieces):
        if piece.kind in {"start", "end"} and i not in partner:
            yield from _by_element(part)
            yield [piece]
            part = []
        else:
            part.append(piece)
    yield from _by_element(part)


def _by_element(part: list[Piece]) -> Iterator[list[Piece]]:
    """Yield a part whole where words stand between its elements, else each element and what lies between alone."""
    depth, between = 0, ""
    for piece in part:
        depth += {"start": 1, "end": -1}.get(piece.kind, 0)
        if depth == 0 and piece.kind == "text":
            between += piece.raw
    starts = [piece for piece in part if piece.kind == "start"]
    if not starts or _WORD.search(between):
        yield part
        return
    inside: list[Piece] = []
    depth = 0
    for piece in part:
        if piece.kind == "start":
            if depth == 0:
                yield inside
                yield [piece]
                inside = []
            else:
                inside.append(piece)
            depth += 1
        elif piece.kind == "end":
            depth -= 1
            if depth == 0:
                yield from _by_element(inside)
                yield [piece]
                inside = []
            else:
                inside.append(piece)
        else:
            inside.append(piece)
    yield inside


def _core(part: list[Piece]) -> tuple[list[Piece], list[Piece], list[Piece]]:
    """Return a part without the pictures, line ends and blanks at its ends."""

    def outer(piece: Piece) -> bool:
        return (
            piece.kind == "empty"
            or (piece.kind == "place" and _DRAWN.match(piece.raw) is not None)
            or (piece.kind == "text" and not piece.raw.strip())
        )

    first, last = 0, len(part)
    while first < last and outer(part[first]):
        first += 1
    while last > first and outer(part[last - 1]):
        last -= 1
    return part[:first], part[first:last], part[last:]


def _message(core: list[Piece]) -> tuple[str, list[str], list[Piece]]:
    said = ""
    places: list[str] = []
    elements: list[Piece] = []
    open_ones: list[int] = []
    for piece in core:
        if piece.kind == "text":
            said += piece.raw
        elif piece.kind == "place":
            said += f"{{{len(places)}}}"
            places.append(piece.raw)
        elif piece.kind == "empty":
            elements.append(piece)
            said += f"<{len(elements)}/>"
        elif piece.kind == "start":
            elements.append(piece)
            open_ones.append(len(elements))
            said += f"<{len(elements)}>"
        else:
            said += f"</{open_ones.pop()}>" if open_ones else ""
    return " ".join(said.split()), places, elements


def _outer_space(core: list[Piece]) -> tuple[str, str]:
    first = core[0].raw if core and core[0].kind == "text" else ""
    last = core[-1].raw if core and core[-1].kind == "text" else ""
    return first[: len(first) - len(first.lstrip())], last[len(last.rstrip()) :]


def _filled(translation: str, places: list[str], elements: list[Piece], *, plain: bool) -> str:
    """Return a translation with its places and elements."""

    def put(found: re.Match[str]) -> str:
        if found[1] is not None:
            at = int(found[1])
            return _told(Piece("place", places[at]), plain=plain) if at < len(places) else ""
        at = int(found[3]) - 1
        if at >= len(elements):
            return ""
        return f"</{elements[at].name}>" if found[2] else elements[at].raw

    return _PLACE.sub(put, translation)


def _told(piece: Piece, *, plain: bool) -> str:
    """Return a piece as it stands in the template of another language: a place is told."""
    if piece.kind != "place":
        return piece.raw
    found = _OPEN_EXPRESSION.match(piece.raw)
    if not found or _LEFT_AS_IT_IS.search(found[2]):
        return piece.raw
    return f"{{{{{found[1]} {'told_plain' if plain else 'told_marked'}(({found[2]})) {found[3]}}}}}"


def _inside(place: str) -> str:
    found = _OPEN_EXPRESSION.match(place)
    return found[2].strip() if found else place
