"""The docstrings of fields as their descriptions in the published schema, taken from the source when one is asked for.

A program that starts needs none of them, and reading them costs more than all else about the kinds of entry.
"""

from __future__ import annotations

import ast
import inspect
import itertools
import textwrap
from functools import cache
from typing import TYPE_CHECKING

from asfound.records.kind_base import Content

if TYPE_CHECKING:
    from collections.abc import Iterator


@cache
def describe() -> None:
    """Give every field of every kind its docstring as its description; the inner models first."""
    for model in _all(Content):
        for field, says in _docstrings(model).items():
            if model.model_fields[field].description is None:
                model.model_fields[field].description = says
    for model in _all(Content):
        model.model_rebuild(force=True)


def _all(model: type[Content]) -> Iterator[type[Content]]:
    """Yield the models under one, in the order in which they were written."""
    for one in model.__subclasses__():
        yield one
        yield from _all(one)


def _docstrings(model: type[Content]) -> dict[str, str]:
    """Return field to docstring of a model and of those that it extends."""
    found: dict[str, str] = {}
    for one in reversed(model.__mro__):
        if issubclass(one, Content) and one is not Content:
            found |= _of_class(one)
    return {name: says for name, says in found.items() if name in model.model_fields}


@cache
def _of_class(model: type[Content]) -> dict[str, str]:
    try:
        tree = ast.parse(textwrap.dedent(inspect.getsource(model)))
    except (OSError, TypeError, SyntaxError):  # a program packed without its source
        return {}
    body = tree.body[0].body if isinstance(tree.body[0], ast.ClassDef) else []
    return {
        field.target.id: inspect.cleandoc(says.value.value)
        for field, says in itertools.pairwise(body)
        if isinstance(field, ast.AnnAssign)
        and isinstance(field.target, ast.Name)
        and isinstance(says, ast.Expr)
        and isinstance(says.value, ast.Constant)
        and isinstance(says.value.value, str)
    }
