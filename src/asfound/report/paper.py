"""Plain colours and hatches for pictures on paper: the day's colours, written out, only those that a picture uses."""

from __future__ import annotations

import re
from functools import cache

INK, INK2, EDGE, RULE, CHOSEN = "#10201d", "#374844", "#697c76", "#c3cdc9", "#2a2d98"
OVER, NEAR, NEAR_FILL, CLASH = "#8e1c06", "#806000", "#b07f00", "#a11d8c"
DOUBT, DOUBT_LEFT, SUNK, GHOST = "#8fa8a4", "#9aa3d6", "#eef2f0", "#8a9b96"
LINE, HEAVY = "1.3", "2.1"

_RULES: dict[str, str] = {
    "text": f"font-family:'Hyperlegible','Hyperlegible Ext';fill:{INK};font-size:13px;font-weight:400",
    ".ink": f"stroke:{INK};stroke-width:{LINE};fill:none",
    ".inkf": f"stroke:{INK};stroke-width:{LINE};fill:#fff",
    ".heavy": f"stroke:{INK};stroke-width:{HEAVY};fill:none",
    ".thin": f"stroke:{EDGE};stroke-width:1;fill:none",
    ".rule": f"stroke:{RULE};stroke-width:1;fill:none",
    ".edge": f"stroke:{EDGE};stroke-width:{LINE};fill:none",
    ".body": f"fill:#fff;stroke:{INK};stroke-width:{LINE}",
    ".part": f"fill:{SUNK};stroke:{INK};stroke-width:{LINE}",
    ".solid": f"fill:{INK};stroke:none",
    ".inkfill": f"fill:{INK};stroke:none",
    ".kitpart": f"fill:url(#hatch-kit-paper);stroke:{INK};stroke-width:{LINE}",
    ".axisline": f"stroke:{EDGE};stroke-width:{LINE};fill:none",
    ".dashdot": f"stroke:{EDGE};stroke-width:1;fill:none;stroke-dasharray:14 4 2 4",
    ".dash": "stroke-dasharray:6 5",
    ".ring": f"fill:#fff;stroke:{INK};stroke-width:3.2",
    ".disc": f"fill:{CHOSEN};stroke:#fff;stroke-width:1.5",
    ".ringp": f"fill:#fff;stroke:{CHOSEN};stroke-width:3;stroke-dasharray:6 3.4",
    ".cloud": "opacity:.5",
    ".sheetless": "fill:#fff;opacity:.86;stroke:none",
    ".ghostdisc": f"fill:{GHOST};stroke:#fff;stroke-width:1.5",
    ".stopline": f"stroke:{CHOSEN};stroke-width:1.3;stroke-dasharray:6 4;fill:none",
    ".stopno": f"fill:{CHOSEN}",
    ".guide": f"stroke:{EDGE};stroke-width:1.1;fill:none",
    ".stretch-f": f"stroke:{INK};stroke-width:3.4;fill:none",
    ".stretch-l": f"stroke:{CHOSEN};stroke-width:3.4;fill:none",
    ".unsure": f"fill:none;stroke:{EDGE};stroke-width:1;stroke-dasharray:2 3",
    ".bar-f": f"fill:#fff;stroke:{INK};stroke-width:{LINE}",
    ".bar-l": f"fill:{DOUBT_LEFT};stroke:none",
    ".bar-g": f"fill:{DOUBT};stroke:none;opacity:.75",
    ".bar-o": f"fill:#f8ded5;stroke:{OVER};stroke-width:1.4",
    ".wallline": f"stroke:{OVER};stroke-width:{HEAVY};fill:none",
    ".wallfill": "fill:url(#hatch-wall-paper);stroke:none",
    ".dim": f"stroke:{INK2};stroke-width:1.2;fill:none",
    ".tx": "font-size:13px",
    ".tx-s": f"font-size:13px;fill:{INK2}",
    ".tx-b": "font-size:13px;font-weight:680",
    ".tx-l": "font-size:15px;font-weight:680",
    ".tx-xl": "font-size:18px;font-weight:680",
    ".tagno": "font-size:19px;font-weight:680;text-anchor:middle",
    ".portno": "font-size:15px;text-anchor:middle",
    ".portno-2": "font-size:24px;text-anchor:middle",
    ".tx-2": f"font-size:22px;fill:{INK2}",
    ".walltext": f"fill:{OVER};font-weight:550",
    ".clashtext": f"fill:{CLASH};font-weight:680",
    ".dimtext": f"fill:{INK2}",
    ".m": "text-anchor:middle",
    ".e": "text-anchor:end",
    ".stopnot": "fill:#fff;font-weight:680",
    ".p-lead": f"fill:{CHOSEN}",
    ".p-second": f"fill:url(#hatch-second-paper);stroke:{CHOSEN};stroke-width:1",
    ".p-rest": f"fill:{DOUBT}",
    ".p-none": f"fill:none;stroke:{INK2};stroke-width:1.2;stroke-dasharray:2 3",
    ".p-track": f"fill:{SUNK};stroke:{RULE};stroke-width:1",
    ".p-was": f"stroke:{INK};stroke-width:{HEAVY};fill:none",
    ".w-for": f"fill:{CHOSEN}",
    ".w-against": f"fill:{CLASH}",
    ".agree": f"fill:{DOUBT};opacity:.34",
    ".level": f"fill:{DOUBT_LEFT};opacity:.62",
    ".ghostmark": f"stroke:{GHOST};stroke-width:3;fill:none",
    ".clashring": f"fill:#fff;stroke:{CLASH};stroke-width:3.2",
    ".clashline": f"stroke:{CLASH};stroke-width:{HEAVY};fill:none",
    ".clashbox": f"fill:#f3e1f0;stroke:{CLASH};stroke-width:2.2;stroke-dasharray:7 4",
    ".chosenfill": f"fill:{CHOSEN}",
    ".filmfill": "fill:#fff;stroke:none",
    ".sheetfill": "fill:#fff;stroke:none",
    ".face": f"fill:#fff;stroke:{INK};stroke-width:2",
    ".lead": f"stroke:{EDGE};stroke-width:1.2;fill:none",
    ".dot": f"fill:{INK}",
    ".openpart": f"fill:#fff;stroke:{INK2};stroke-width:{LINE};stroke-dasharray:5 4",
    ".tag.open .face": f"stroke-dasharray:5 4;stroke:{INK2}",
    ".tag.clash .face": f"stroke:{CLASH};stroke-width:3.2",
    ".tag.alien .face": "stroke-dasharray:2 3.5;stroke-width:2.4",
    ".tag.kit .face": "fill:url(#hatch-kit-paper)",
    ".tag.sel .face": f"fill:{CHOSEN};stroke:{CHOSEN}",
    ".tag.sel text": "fill:#fff",
    ".s-stop": f"fill:{OVER};stroke:none",
    ".s-on": "stroke:#fff;stroke-width:3.4;fill:none",
    ".s-visit": f"stroke:{OVER};stroke-width:2.6;stroke-linejoin:round;fill:none",
    ".s-soon": f"stroke:{NEAR};stroke-width:2.6;stroke-linejoin:round;fill:none",
    ".s-soonf": f"fill:{NEAR};stroke:none",
    ".s-note": f"stroke:{INK2};stroke-width:2.3;fill:none",
    ".s-clash": f"stroke:{CLASH};stroke-width:2.8;fill:none",
    ".i": f"stroke:{INK};stroke-width:2.3;fill:none;stroke-linejoin:round",
    ".ih": f"stroke:{INK};stroke-width:3.2;fill:none",
    ".if": f"fill:{INK};stroke:none",
    ".is": "stroke:#fff;stroke-width:3;fill:none",
    ".i3": f"stroke:{INK};stroke-width:2.2;fill:none;stroke-dasharray:4 3",
    ".i4": f"stroke:{INK};stroke-width:2;fill:none;stroke-dasharray:2.5 3.5",
    ".house": f"fill:none;stroke:{INK};stroke-width:4.4",
    ".bigring": f"fill:none;stroke:{INK};stroke-width:3.6",
    ".pring": f"fill:none;stroke:{RULE};stroke-width:3.4",
    ".parc": f"fill:none;stroke:{INK};stroke-width:3.4",
    ".psector": f"fill:{CHOSEN};stroke:none",
    ".bl-lead": f"stroke:{CHOSEN};stroke-width:{HEAVY};fill:none",
    ".bl-second": f"stroke:{CHOSEN};stroke-width:{HEAVY};fill:none;stroke-dasharray:7 5",
    ".bl-rest": f"stroke:{GHOST};stroke-width:{LINE};fill:none",
    ".bl-none": f"stroke:{GHOST};stroke-width:{LINE};fill:none;stroke-dasharray:2 4",
    ".bd-lead": f"fill:{CHOSEN}",
    ".bd-second": f"fill:{CHOSEN}",
    ".bd-rest": f"fill:{GHOST}",
    ".bd-none": f"fill:#fff;stroke:{GHOST};stroke-width:1.3",
    ".tl-now": f"fill:{CHOSEN}",
    ".tl-gap": "fill:url(#hatch-gap-paper)",
    ".tl-band": f"fill:{CHOSEN};opacity:.2",
    ".tl-mean": f"stroke:{CHOSEN};stroke-width:1.4;fill:none;stroke-linejoin:round",
    ".tl-mean.quiet": "stroke-width:.8;opacity:.6",
    ".tl-dots": f"stroke:{CHOSEN};stroke-width:2.8;stroke-linecap:round;fill:none",
    ".tl-doubt": f"fill:{CHOSEN};opacity:.3",
    ".tl-level": f"stroke:{CHOSEN};stroke-width:2.2;fill:none;stroke-linejoin:round",
    ".tl-fan": f"fill:{CHOSEN};opacity:.16",
    ".tl-out": f"stroke:{INK2};stroke-width:2.4;fill:none",
    ".tl-visit": f"stroke:{INK};stroke-width:1.1;fill:none",
    ".tl-disc": f"fill:{CHOSEN}",
    ".tl-start": f"stroke:{EDGE};stroke-width:1",
    ".tl-work": f"fill:none;stroke:{EDGE};stroke-width:1.2",
    ".tl-thin": "stroke-width:2",
    ".veil": "opacity:.84",
}

_HATCHES = {
    "hatch-wall-paper": '<pattern id="hatch-wall-paper" width="7" height="7" patternUnits="userSpaceOnUse" '
    f'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="7" stroke="{OVER}" stroke-width="1.8"/></pattern>',
    "hatch-second-paper": '<pattern id="hatch-second-paper" width="6" height="6" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(-45)"><rect width="6" height="6" fill="#fff"/>'
    f'<line x1="0" y1="0" x2="0" y2="6" stroke="{CHOSEN}" stroke-width="2.4"/></pattern>',
    "hatch-gap-paper": '<pattern id="hatch-gap-paper" width="6" height="6" patternUnits="userSpaceOnUse">'
    f'<circle cx="1.5" cy="1.5" r="1" fill="{EDGE}"/></pattern>',
    "hatch-kit-paper": '<pattern id="hatch-kit-paper" width="9" height="9" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(-45)"><rect width="9" height="9" fill="#fff"/>'
    '<rect width="4" height="9" fill="#dcdff4"/></pattern>',
}  # fmt: skip

_CLASS = re.compile(r'class="([^"]*)"')


def rules() -> dict[str, str]:
    """Return the selectors and declarations that a picture on paper may use."""
    return dict(_RULES)


@cache
def _needs(selector: str) -> frozenset[str]:
    return frozenset(re.findall(r"\.([\w-]+)", selector))


def paper_style(body: str) -> str:
    """Return the style and hatches that the classes in ``body`` need."""
    used = {name for group in _CLASS.findall(body) for name in group.split()}
    wanted = [(s, d) for s, d in _RULES.items() if _needs(s) <= used and (s != "text" or "<text" in body)]
    style = "".join(f"{selector}{{{declarations}}}" for selector, declarations in wanted)
    hatches = "".join(markup for name, markup in _HATCHES.items() if f"url(#{name})" in style)
    return f"<style>{style}</style>" + (f"<defs>{hatches}</defs>" if hatches else "")
