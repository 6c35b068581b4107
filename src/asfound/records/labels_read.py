"""What the label reader made of a photo, and how far it can be trusted. The extra ``labels`` brings the reader.

A score is no probability. On 60 hard pictures of invented labels (little contrast, blur, noise, letters of 16 to 28
pixels) 20 were read right and most others not at all; of 18 that scored above 0.99 two were wrong, ``I8`` for ``18``
(measured when the library was chosen). So a text is offered to a person, never kept by itself; what is kept is a look
in a photo, whose error of 0.12 in ``fitout.seeing`` is not below the 2 of 18 measured; and what scores less is marked.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass
from importlib.util import find_spec

from asfound.errors import InputError, RecordError

SURE = 0.99
"""Score below which a text has to be compared sign by sign."""
LEAST = 0.5
"""Score below which a text is not shown: mostly no text at all."""
WAIT = 90.0
"""How long one photo may take. The first reading of the day loads the models: 1 to 5 s. [s]"""
NEEDS = ("rapidocr", "onnxruntime", "zxingcpp")


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelText:
    """One piece of text on a photo."""

    text: str
    score: float
    """Of the reader, 0 to 1; no probability."""
    code: str = ""
    """Kind of a bar code or QR code; empty for written text."""

    @property
    def weak(self) -> bool:
        """Whether it has to be compared sign by sign."""
        return not self.code and self.score < SURE


def can_read() -> bool:
    """Return whether the extra is installed."""
    return all(find_spec(name) is not None for name in NEEDS)


def read_labels(photo: bytes, *, wait: float = WAIT) -> tuple[LabelText, ...]:
    """Return the texts on a photo, read in a process that ends.

    Raises
    ------
    InputError
        The extra is not installed.
    RecordError
        The reader took too long or broke off; the photo is kept all the same.
    """
    if not can_read():
        raise InputError(
            "photo",
            "",
            "cannot be read by the program: its label reader is not installed",
            try_next="Type what you see; or install it: pip install 'asfound[labels]' (270 MB, works without network).",
        )
    command = [sys.executable, "-m", "asfound.records.label_reader"]
    try:
        done = subprocess.run(command, input=photo, capture_output=True, timeout=wait, check=True)
        found = json.loads(done.stdout)
    except subprocess.TimeoutExpired as fault:
        raise RecordError(
            f"The label reader took longer than {wait:.0f} s and was stopped. Type what you see."
        ) from fault
    except (OSError, subprocess.CalledProcessError, ValueError) as fault:
        raise RecordError("The label reader broke off. The photo is kept; type what you see.") from fault
    read = (LabelText(text=one["text"][:80], score=one["score"], code=one["code"]) for one in found)
    return tuple(one for one in read if one.score >= LEAST)
