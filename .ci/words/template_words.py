"""Babel extractors: what templates of pages say, and what the typesetter's templates say."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import jinja2
from jinja2 import nodes
from python_words import is_prose

from asfound.language.pages import messages
from asfound.language.sheets import messages as sheet_messages

if TYPE_CHECKING:
    from collections.abc import Iterator

_WORDS_ONLY = re.compile(r"[a-z]{3,}")


def page(fileobj: Any, keywords: Any, comment_tags: Any, options: Any) -> Iterator[tuple[int, str, str, list[str]]]:
    """Yield what a template of a page says: its text, and the fixed words in its expressions."""
    source = fileobj.read().decode("utf-8")
    for one in messages(source):
        comments = [f"{{{i}}} = {place}"[:160] for i, place in enumerate(one.places)]
        yield 1, "_", one.text, comments
    tree = jinja2.Environment().parse(source)
    for line, text, single in _constants(tree):
        if is_prose(text, single=single):
            yield line, "_", text.strip(), []


def _constants(tree: nodes.Node) -> Iterator[tuple[int, str, bool]]:
    skipped: set[int] = set()
    for node in tree.find_all(
        (
            nodes.Compare,
            nodes.Getitem,
            nodes.Filter,
            nodes.Call,
            nodes.Test,
            nodes.Extends,
            nodes.Include,
            nodes.FromImport,
            nodes.Import,
        )
    ):
        if isinstance(node, nodes.Compare):
            skipped |= {id(one.expr) for one in node.ops if isinstance(one.expr, nodes.Const)}
            skipped |= {id(node.expr)}
        elif isinstance(node, nodes.Getitem):
            skipped.add(id(node.arg))
        elif isinstance(node, nodes.Filter) and node.name == "plural":
            words = [one.value for one in node.args if isinstance(one, nodes.Const)]
            skipped |= {id(one) for one in node.args}
            if words:
                yield node.lineno, f"{{0}} {words[0]}", True
                yield node.lineno, f"{{0}} {words[1] if len(words) > 1 else words[0] + 's'}", True
        elif isinstance(node, nodes.Filter) and node.name in {"rejectattr", "selectattr", "map", "groupby", "sort"}:
            skipped |= {id(one) for one in node.args}
        elif isinstance(node, (nodes.Extends, nodes.Include, nodes.FromImport, nodes.Import)):
            skipped.add(id(node.template))
        elif (
            isinstance(node, nodes.Call)
            and isinstance(node.node, nodes.Getattr)
            and node.node.attr in {"get", "split", "startswith", "icon", "state_sign"}
        ):
            skipped |= {id(one) for one in node.args}
    chosen = {id(one) for node in tree.find_all(nodes.CondExpr) for one in (node.expr1, node.expr2)}
    for node in tree.find_all(nodes.Concat):
        text = ""
        for i, part in enumerate(node.nodes):
            text += str(part.value) if isinstance(part, nodes.Const) else f"{{{i}}}"
            skipped.add(id(part))
        numbers = iter(range(99))
        yield node.lineno, re.sub(r"\{\d+\}", lambda _: f"{{{next(numbers)}}}", text), False  # noqa: B023
    for node in tree.find_all(nodes.Const):
        if isinstance(node.value, str) and id(node) not in skipped:
            yield node.lineno, node.value, id(node) in chosen and _WORDS_ONLY.fullmatch(node.value) is not None


def sheet(fileobj: Any, keywords: Any, comment_tags: Any, options: Any) -> Iterator[tuple[int, str, str, list[str]]]:
    """Yield what a template of the typesetter says."""
    for one in sheet_messages(fileobj.read().decode("utf-8")):
        yield 1, "_", one.text, [f"{{{i}}} = {place}"[:160] for i, place in enumerate(one.places)]
