"""Small signs on a 24 px square: by when a hand is needed, what a look gave, pictures that are quicker than words.

Strokes carry ``i`` (2.3 px in the colour of the text), ``ih`` heavier, ``if`` filled; severities have own colours.
"""

from __future__ import annotations

from asfound.errors import UnknownNameError
from asfound.report.ink import Picture

SEVERITY_WORDS = {
    "stop": "Stop now",
    "visit": "This visit",
    "clash": "Does not agree",
    "soon": "Next visit",
    "note": "Noted",
}
"""Word of each severity, in the order of urgency."""
LOOK_WORDS = {
    "seen": "seen",
    "not_there": "looked, not there",
    "not_judged": "could not judge",
    "open": "not looked at yet",
    "clash": "does not agree",
}
"""Word of each state of a look."""

_QUESTION = (
    '<path class="i" d="M 8.7 9.3 a 3.4 3.4 0 1 1 4.8 3.1 c -1 .5 -1.4 1 -1.4 2.1"/><circle '
    'class="if" cx="12.1" cy="17.6" r="1.4"/>'
)
_TRIANGLE = '<path class="{0}" d="M 12 3 L 22 21 H 2 Z"/><path class="{0}" d="M 12 9.2 V 15 M 12 17 V 19"/>'
_CLASH = '<path class="s-clash" d="M 3 9 H 21 M 3 15 H 21 M 17 3 L 7 21"/>'

_SEVERITIES = {
    "stop": '<path class="s-stop" d="M 7.7 2 H 16.3 L 22 7.7 V 16.3 L 16.3 22 H 7.7 L 2 16.3 V 7.7 '
    'Z"/><path class="s-on" d="M 7 12 H 17"/>',
    "visit": _TRIANGLE.format("s-visit"),
    "clash": _CLASH,
    "soon": '<path class="s-soon" d="M 12 2.6 L 21.4 12 L 12 21.4 L 2.6 12 Z"/><path class="s-soonf" '
    'd="M 12 4 V 20 L 4 12 Z"/>',
    "note": '<rect class="s-note" x="4" y="4" width="16" height="16"/><path class="s-note" d="M 8 12 H 16"/>',
}

_LOOKS = {
    "seen": '<rect class="if" x="2" y="2" width="20" height="20"/><path class="is" d="M 6 12.4 L 10.4 17 L 18.4 7.6"/>',
    "not_there": '<rect class="i" x="3.2" y="3.2" width="17.6" height="17.6"/><path class="i" d="M '
    '3.2 20.8 L 20.8 3.2"/>',
    "not_judged": f'<rect class="i3" x="3.2" y="3.2" width="17.6" height="17.6"/>{_QUESTION}',
    "open": '<rect class="i4" x="3.2" y="3.2" width="17.6" height="17.6"/>',
    "clash": _CLASH,
}

_RUN = '<circle class="i" cx="12" cy="12" r="9"/>'
_ICONS = {
    "plus": '<path class="ih" d="M 12 3 V 21 M 3 12 H 21"/>',
    "minus": '<path class="ih" d="M 3 12 H 21"/>',
    "close": '<path class="ih" d="M 5 5 L 19 19 M 19 5 L 5 19"/>',
    "arrow": '<path class="ih" d="M 3 12 H 19 M 12.5 5 L 19.5 12 L 12.5 19"/>',
    "back": '<path class="ih" d="M 21 12 H 5 M 11.5 5 L 4.5 12 L 11.5 19"/>',
    "down": '<path class="ih" d="M 12 3 V 19 M 5 12.5 L 12 19.5 L 19 12.5"/>',
    "undo": '<path class="i" d="M 4 9 H 14 a 5.5 5.5 0 0 1 0 11 H 8"/><path class="i" d="M 9 4 L 4 9 L 9 14"/>',
    "search": '<circle class="i" cx="10" cy="10" r="6.5"/><path class="ih" d="M 15 15 L 21.5 21.5"/>',
    "camera": '<path class="i" d="M 2 7 H 7 L 9 4 H 15 L 17 7 H 22 V 20 H 2 Z"/><circle class="i" '
        'cx="12" cy="13" r="4"/>',
    "note": '<path class="i" d="M 4 3 H 20 V 15 L 14 21 H 4 Z"/><path class="i" d="M 8 8.5 H 16 M 8 13 H 13"/>',
    "reading": '<path class="i" d="M 3 18 a 9.4 9.4 0 0 1 18 0"/><path class="ih" d="M 12 18 L 16 9.5"/>',
    "eye": '<path class="i" d="M 2 12 C 6 5.6 18 5.6 22 12 C 18 18.4 6 18.4 2 12 Z"/><circle '
        'class="if" cx="12" cy="12" r="3.2"/>',
    "lock": '<rect class="i" x="4" y="10.5" width="16" height="10.5"/><path class="i" d="M 7.6 10.5 '
        'V 7 a 4.4 4.4 0 0 1 8.8 0 V 10.5"/>',
    "unlock": '<rect class="i" x="4" y="10.5" width="16" height="10.5"/><path class="i" d="M 7.6 '
        '10.5 V 6.4 a 4.4 4.4 0 0 1 8.6 -1.2"/>',
    "clock": '<circle class="i" cx="12" cy="12" r="9"/><path class="i" d="M 12 6.4 V 12.4 L 16 15"/>',
    "ok": '<path class="ih" d="M 4 12.6 L 10 18.4 L 20.5 6"/>',
    "kept": '<path class="ih" d="M 4 12.6 L 10 18.4 L 20.5 6"/>',
    "waiting": '<path class="i" d="M 3 9 a 13 13 0 0 1 18 0 M 6.6 13 a 8 8 0 0 1 10.8 0 M 3 21 L 21 '
        '3"/><circle class="if" cx="12" cy="18" r="2"/>',
    "network": '<path class="i" d="M 3 9 a 13 13 0 0 1 18 0 M 6.6 13 a 8 8 0 0 1 10.8 0"/><circle '
        'class="if" cx="12" cy="18" r="2"/>',
    "not_kept": _SEVERITIES["stop"],
    "day": '<circle class="i" cx="12" cy="12" r="8"/>',
    "night": '<path class="if" d="M 20 14.6 A 8.5 8.5 0 0 1 9.4 4 A 8.5 8.5 0 1 0 20 14.6 Z"/>',
    "sun": '<circle class="if" cx="12" cy="12" r="5"/><path class="i" d="M 12 1 V 5 M 12 19 V 23 M 1 '
        '12 H 5 M 19 12 H 23 '
    'M 4.2 4.2 L 7 7 M 17 17 L 19.8 19.8 M 4.2 19.8 L 7 17 M 17 7 L 19.8 4.2"/>',
    "running": f'{_RUN}<path class="i" d="M 8 12 a 4 4 0 1 1 4 4 M 9.4 13.6 L 12.4 16 L 9.8 18.6"/>',
    "stopped": f'{_RUN}<path class="ih" d="M 8 12 H 16"/>',
    "isolated": f'{_RUN}<path class="i" d="M 9 11.6 V 10 a 3 3 0 0 1 6 0 V 11.6"/><rect class="if" '
        'x="8" y="11.4" width="8" height="6"/>',
    "caution": _TRIANGLE.format("i"),
    "visit": '<path class="i" d="M 4 3 H 20 V 21 H 4 Z M 4 9 H 20 M 12 9 V 21"/>',
    "take": '<path class="i" d="M 8.4 3 H 21 V 21 H 3 V 8.4 Z"/><circle class="i" cx="9.6" cy="9.6" r="1.6"/>',
    "think": '<path class="i" d="M 3 6 H 21 M 3 12 H 14 M 3 18 H 18"/>',
    "hand_over": '<path class="i" d="M 4 3 H 15 L 20 8 V 21 H 4 Z"/><path class="i" d="M 8 13 H 16 M 8 17 H 13"/>',
    "file": '<path class="i" d="M 5 3 H 14 L 19 8 V 21 H 5 Z M 14 3 V 8 H 19"/>',
    "bundle": '<rect class="i" x="3" y="7" width="18" height="13"/><path class="i" d="M 3 11.5 H 21 '
        'M 12 7 V 20 M 8 4 L 12 7 L 16 4"/>',
    "arrow_both": '<path class="i" d="M 2 12 H 22 M 7 7 L 2 12 L 7 17 M 17 7 L 22 12 L 17 17"/>',
    "arrow_one": '<path class="i" d="M 2 12 H 22 M 17 7 L 22 12 L 17 17"/>',
    "arrow_none": '<path class="i4" d="M 2 12 H 22"/><path class="s-clash" d="M 8 8 L 16 16 M 16 8 L 8 16"/>',
}  # fmt: skip
ICONS = tuple(sorted(_ICONS))


def severity_markup(severity: str) -> str:
    """Return the shapes of a severity, on a 24 px square."""
    return _find("severity", severity, _SEVERITIES)


def look_markup(answer: str) -> str:
    """Return the shapes of a state of a look, on a 24 px square."""
    return _find("state of a look", answer, _LOOKS)


def severity_sign(severity: str, *, size: float = 24, label: str | None = None, paper: bool = False) -> str:
    """Draw by when a hand is needed; ``label`` None: the severity's word, empty: the word stands beside it."""
    return _sign(severity_markup(severity), size, SEVERITY_WORDS[severity] if label is None else label, paper)


def look_sign(answer: str, *, size: float = 24, label: str | None = None, paper: bool = False) -> str:
    """Draw what a look gave; ``answer`` as in the record, ``open`` for not looked at, ``clash`` for does not agree."""
    return _sign(look_markup(answer), size, LOOK_WORDS[answer] if label is None else label, paper)


def icon(name: str, *, size: float = 24, label: str | None = None, paper: bool = False) -> str:
    """Draw an icon of ``ICONS``; without a label it is hidden from readers of the screen, as words stand beside it.

    Raises
    ------
    UnknownNameError
        No icon bears that name.
    """
    return _sign(_find("icon", name, _ICONS), size, label or "", paper)


def _find(what: str, name: str, known: dict[str, str]) -> str:
    try:
        return known[name]
    except KeyError:
        raise UnknownNameError(what, name, known) from None


def _sign(markup: str, size: float, label: str, paper: bool) -> str:
    picture = Picture(24, 24, label=label, paper=paper, classes="gl")
    picture.raw(markup)
    text = picture.svg()
    if paper:
        return text.replace('width="24" height="24"', f'width="{size:g}" height="{size:g}"', 1)
    return text.replace("<svg", f'<svg width="{size:g}" height="{size:g}"', 1)
