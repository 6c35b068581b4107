"""Read text and codes off one photo; a program of its own, that ends when it has answered.

The models take 600 MB of memory, so they live in a process that goes away: ``python -m asfound.records.label_reader``
with the photo on its standard input, JSON on its standard output. Nothing is fetched: the models are in the wheel.
"""

from __future__ import annotations

import json
import logging
import sys
from importlib import import_module
from io import BytesIO
from typing import Any

MOST = 40
"""Pieces of text taken from one photo."""


def read(data: bytes) -> list[dict[str, Any]]:
    """Return what stands on a photo: codes first, then text from the best read to the worst."""
    from PIL import Image

    with Image.open(BytesIO(data)) as opened:
        picture = opened.convert("RGB")
    return (_codes(picture) + _text(picture))[:MOST]


def _codes(picture: Any) -> list[dict[str, Any]]:
    import zxingcpp

    found = zxingcpp.read_barcodes(picture)
    return [{"text": one.text, "score": 1.0, "code": str(one.format.name)} for one in found if one.text.strip()]


def _text(picture: Any) -> list[dict[str, Any]]:
    import numpy as np

    logging.disable(logging.WARNING)
    answer = import_module("rapidocr").RapidOCR()(np.asarray(picture)[:, :, ::-1].copy())  # it takes blue first
    if answer.txts is None:
        return []
    pairs = zip(answer.txts, answer.scores, strict=True)
    read_ = [{"text": str(text).strip(), "score": round(float(score), 4), "code": ""} for text, score in pairs]
    return sorted((one for one in read_ if one["text"]), key=lambda one: -float(str(one["score"])))


if __name__ == "__main__":
    out = sys.stdout
    sys.stdout = sys.stderr  # a library that prints must not get into the answer
    json.dump(read(sys.stdin.buffer.read()), out)
