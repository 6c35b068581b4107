"""The tag of an alarm in words, with the tag behind: ``Oil pressure very low (PSLL-OIL)``.

Letters as in ANSI/ISA-5.1-2009, table 4.1 (from memory): what is measured, then switch or alarm, then how far. A tag
that is not written so is shown as it is; one that is a channel of the log by its name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from asfound.history.channels import titled

MEASURED = {
    "A": "analysis", "E": "voltage", "F": "flow", "I": "current", "J": "power", "L": "level", "P": "pressure",
    "PD": "pressure difference", "S": "speed", "T": "temperature", "TD": "temperature difference", "V": "vibration",
    "Z": "position",
}  # fmt: skip
FAR = {"H": "high", "HH": "very high", "L": "low", "LL": "very low"}
_CODE = re.compile(r"(?P<what>PD|TD|[A-Z])[SA]?(?P<far>HH|LL|H|L)[-_ ](?P<where>[A-Za-z].*)")


def tag_said(tag: str) -> str:
    """Return a tag in words with the tag behind; the tag alone where its letters say nothing.

    >>> tag_said("PSLL-OIL")
    'Oil pressure very low (PSLL-OIL)'
    """
    if "@" in tag:
        return f"{titled(tag)} ({tag})"
    code = _CODE.fullmatch(tag)
    if code is None or code["what"] not in MEASURED:
        return tag
    where, what = re.sub(r"[-_]+", " ", code["where"]).lower(), MEASURED[code["what"]]
    # 'Vibration', not 'Vib vibration'
    words = what if what.startswith(where) else f"{where} {what}"
    return f"{words[0].upper()}{words[1:]} {FAR[code['far']]} ({tag})"


def tags_said(tags: Iterable[str], between: str = ", ") -> str:
    """Return several tags in words."""
    return between.join(tag_said(one) for one in tags)
