"""Babel extractors: what tables and knowledge files say. Sources, numbers and what only the program reads are left out."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

import yaml
from python_words import is_prose

if TYPE_CHECKING:
    from collections.abc import Iterator

COLUMNS = ("title", "help", "says", "means", "look", "again", "of", "first", "witness", "criterion", "consequence", "why", "term",
           "condition", "verdict", "when", "basis", "averaging", "topic")  # fmt: skip
LEFT_OUT = frozenset({"source", "cited", "cited_as", "id", "time", "by", "en", "de", "es", "scope", "catalogue", "edition", "activities", "tag", "applies",
                      "jurisdiction_note", "state", "key", "quantity", "clause", "slot", "slots", "fits", "kind", "group", "matches", "pattern", "label", "labels",
                      "regex", "picture", "examples"})  # fmt: skip


def table(fileobj: Any, keywords: Any, comment_tags: Any, options: Any) -> Iterator[tuple[int, str, str, list[str]]]:
    """Yield what the columns of words of a table say."""
    text = "\n".join(line for line in fileobj.read().decode("utf-8").splitlines() if not line.startswith("#"))
    for number, row in enumerate(csv.DictReader(io.StringIO(text)), 1):
        for column in COLUMNS:
            said = (row.get(column) or "").strip()
            if is_prose(said, single=column in {"title", "means", "term"}):
                yield number, "_", said, []


def knowledge(
    fileobj: Any, keywords: Any, comment_tags: Any, options: Any
) -> Iterator[tuple[int, str, str, list[str]]]:
    """Yield what a knowledge file says."""

    def walk(value: Any, key: str) -> Iterator[str]:
        if isinstance(value, str) and is_prose(
            value.strip(), single=key in {"title", "says", "does", "part", "item", "states"}
        ):
            yield " ".join(value.split())
        elif isinstance(value, dict):
            for name, one in value.items():
                holds_more = isinstance(one, dict) or (
                    isinstance(one, list) and any(isinstance(part, dict) for part in one)
                )
                if name not in LEFT_OUT or (holds_more and name != "examples"):
                    yield from walk(one, str(name))
        elif isinstance(value, list):
            for one in value:
                yield from walk(one, key)

    for said in walk(yaml.safe_load(fileobj.read().decode("utf-8")), ""):
        yield 1, "_", said, []
