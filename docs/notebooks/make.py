"""Make the notebooks: run the cells of each ``*.py`` here in order and write them with what they show as ``*.ipynb``.

    python docs/notebooks/make.py

The form is nbformat 4.5, which is JSON; neither a kernel nor a notebook program is needed to make it. Cells are parted
by ``# %%``; ``# %% [markdown]`` begins a cell of text.
"""

from __future__ import annotations

import ast
import contextlib
import io
import json
import re
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
SOURCES = ("a_visit", "a_sheet")
LARGEST = 20_000
"""More than this is no example any more. [character]"""


def cells(text: str) -> list[tuple[str, str]]:
    """Return the cells of a source: kind and text."""
    parts = re.split(r"^# %%(.*)$", text, flags=re.MULTILINE)[1:]
    found = []
    for mark, body in zip(parts[::2], parts[1::2], strict=True):
        body = body.strip("\n")
        if "[markdown]" in mark:
            found.append(("markdown", "\n".join(line.removeprefix("#").removeprefix(" ") for line in body.split("\n"))))
        else:
            found.append(("code", body))
    return found


def run(code: str, names: dict[str, Any]) -> list[dict[str, Any]]:
    """Run a cell; return its outputs as nbformat wants them. The last expression is what it shows."""
    tree = ast.parse(code)
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        exec(compile(tree, "<cell>", "exec"), names)
        value = eval(compile(ast.Expression(last.value), "<cell>", "eval"), names) if last else None
    outputs: list[dict[str, Any]] = []
    if said.getvalue():
        outputs.append({"output_type": "stream", "name": "stdout", "text": said.getvalue()})
    if value is not None:
        shown = {"text/plain": f"<{type(value).__name__}>" if hasattr(value, "_repr_html_") else repr(value)}
        if hasattr(value, "_repr_html_"):
            shown["text/html"] = value._repr_html_()
        outputs.append({"output_type": "execute_result", "execution_count": None, "metadata": {}, "data": shown})
    return outputs


def notebook(source: Path) -> dict[str, Any]:
    """Return a source as an executed notebook."""
    names: dict[str, Any] = {"__name__": "notebook"}
    made, count = [], 0
    for number, (kind, text) in enumerate(cells(source.read_text(encoding="utf-8"))):
        cell: dict[str, Any] = {"cell_type": kind, "id": f"cell-{number}", "metadata": {}, "source": text}
        if kind == "code":
            count += 1
            outputs = run(text, names)
            for one in outputs:
                if "execution_count" in one:
                    one["execution_count"] = count
            cell |= {"execution_count": count, "outputs": outputs}
        made.append(cell)
    return {
        "cells": made,
        "metadata": {
            "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
            "language_info": {"name": "python"},
        },
        "nbformat": 4,
        "nbformat_minor": 5,
    }


def as_text(made: dict[str, Any]) -> str:
    """Return a notebook as it is written to a file."""
    return json.dumps(made, ensure_ascii=False, indent=1) + "\n"


if __name__ == "__main__":
    for name in SOURCES:
        text = as_text(notebook(HERE / f"{name}.py"))
        (HERE / f"{name}.ipynb").write_text(text, encoding="utf-8")
        print(f"{name}.ipynb, {len(text):,} characters")
