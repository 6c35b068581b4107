"""Babel extractor: what Python files say. Every constant and f-string that is prose, no marks needed.

An f-string is a message with numbered places. A place that chooses between fixed words is written out as one message
for each choice, so that each can be a whole sentence in another language. What the program only works with (keys,
patterns, doc strings, annotations) is left out.
"""

from __future__ import annotations

import ast
import re
import sys
from itertools import product
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

MOST_CHOICES = 8
_WORD = re.compile(r"[^\W\d_]{2,}")
_LOWER = re.compile(r"(?<![\w.])[a-z]{2,}(?![\w(=/.]\w)")
_CODE = re.compile(
    r"</|/>|<\w+ |://|^\s*(?:SELECT|INSERT|UPDATE|DELETE|CREATE|PRAGMA|WITH|COPY|ALTER|FROM|WHERE|AND|ORDER|LEFT)\b"
    r"|^[/#.\\]|\w\(\w*\)|%[YmdHMS]|^[MLHVCZ] ?[\d{-](?!.*[a-z]{3})|--\w|\$\{|\\[wsdb]|\(\?|^\w+=|^-?-\w+|;\s*\w+-?\w*:\S|^text/|^application/"
    r"|^[a-z_]+(?:-[a-z_]+)*$|^[\w-]+: ?[\w#-]+;|charset=|asfound\.\w+|^\{0\}[_/-]\{1\}|stroke(?:-\w+)?[=:]|viewBox"
    r"|^tx(?:-\w+)? |[<>]=|;\s*\w+=|^\w[^ ]*(?: \[.*\])? = |max-age|_\w+ = |^\w+/\w+/"
)
_SKIPPED_CALLS = frozenset({
    "compile", "getattr", "setattr", "hasattr", "import_module", "files", "joinpath", "Route", "startswith", "endswith", "removeprefix",
    "removesuffix", "strip", "split", "partition", "rpartition", "encode", "execute", "fromisoformat", "strftime", "open", "raw", "Literal", "TypeVar", "finditer", "fullmatch",
    "match", "sub", "search", "translate", "TypeAlias", "text_width", "count", "find", "rule", "path", "line", "rect", "circle", "add_header",
    "load_csv", "ArgumentParser", "namedtuple", "NewType", "cast", "mapped_column", "CheckConstraint", "op_execute", "DeprecationWarning", "AssertionError",
    "ValueError", "TypeError", "KeyError", "RuntimeError", "NotImplementedError", "LookupError", "warn",
})  # fmt: skip


def is_prose(text: str, *, single: bool = False) -> bool:
    """Return whether a text is something that a person reads.

    Parameters
    ----------
    text : str
        With its places.
    single : bool
        Take a single small word as well: it stands where only words stand.
    """
    bare = re.sub(r"\{\d+\}", "", text).strip()
    if not _WORD.search(bare) or len(text) > 1500 or _CODE.search(text):
        return single and re.fullmatch(r"[a-z]{2,}", bare) is not None and bare == text.strip()
    if " " in text.strip():
        return _LOWER.search(bare) is not None or bare[:1].isupper()
    return bool(re.fullmatch(r"[A-Z][a-z]{2,}[.:]?", bare)) or single


class _Reader(ast.NodeVisitor):
    def __init__(self) -> None:
        self.found: list[tuple[int, str]] = []

    def note(self, line: int, text: str, *, single: bool = False) -> None:
        core = text.strip()
        if core and is_prose(core, single=single):
            self.found.append((line, core))

    # what is no prose, whatever it looks like
    def visit_Module(self, node: ast.Module) -> None:
        self._body(node.body)

    def _body(self, body: list[ast.stmt]) -> None:
        for statement in body:
            if isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant):
                continue  # doc strings
            self.visit(statement)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for default in [*node.args.defaults, *node.args.kw_defaults]:
            if default is not None:
                self.visit(default)
        for decorator in node.decorator_list:
            self.visit(decorator)
        self._body(node.body)

    visit_AsyncFunctionDef = visit_FunctionDef  # type: ignore[assignment]

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self._body(node.body)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None and not (isinstance(node.annotation, ast.Name) and node.annotation.id == "TypeAlias"):
            self.visit(node.value)

    def visit_Assign(self, node: ast.Assign) -> None:
        names = [target.id for target in node.targets if isinstance(target, ast.Name)]
        if any(name == "__all__" or name.endswith(("_SQL", "_HTML")) for name in names):
            return
        self.visit(node.value)

    def visit_Import(self, node: ast.Import) -> None:
        return

    visit_ImportFrom = visit_Import  # type: ignore[assignment]

    def visit_Compare(self, node: ast.Compare) -> None:
        for one in (node.left, *node.comparators):
            if not isinstance(one, (ast.Constant, ast.Tuple, ast.Set)):
                self.visit(one)

    def visit_Subscript(self, node: ast.Subscript) -> None:
        self.visit(node.value)
        if not isinstance(node.slice, ast.Constant):
            self.visit(node.slice)

    def visit_Dict(self, node: ast.Dict) -> None:
        for key, value in zip(node.keys, node.values, strict=True):
            if isinstance(key, ast.Constant) and isinstance(key.value, str) and " " in key.value:
                self.visit(key)
            self.visit(value)

    def visit_Call(self, node: ast.Call) -> None:
        name = _name(node)
        self.visit(node.func)
        if _is_plural(node):
            for text in _plural(node):
                self.note(node.lineno, text, single=True)
            for argument in node.args[:1]:
                self.visit(argument)
            return
        if name in _SKIPPED_CALLS:
            for argument in node.args:
                if not isinstance(argument, (ast.Constant, ast.JoinedStr)):
                    self.visit(argument)
            return
        if name == "format" and isinstance(node.func, ast.Attribute) and isinstance(node.func.value, ast.Constant):
            self.note(node.lineno, re.sub(r"\{[^{}]*\}", "{}", str(node.func.value.value)))
        for argument in [*node.args, *(keyword.value for keyword in node.keywords)]:
            self.visit(argument)

    def visit_Constant(self, node: ast.Constant) -> None:
        if isinstance(node.value, str) and len(node.value) < 1500:
            self.note(node.lineno, _escaped(node.value))

    def visit_IfExp(self, node: ast.IfExp) -> None:
        for branch in (node.body, node.orelse):
            if isinstance(branch, ast.Constant) and isinstance(branch.value, str):
                self.note(
                    branch.lineno, _escaped(branch.value), single=branch.value.isalpha() and len(branch.value) > 2
                )
            else:
                self.visit(branch)
        self.visit(node.test)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        self._pattern(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        if isinstance(node.op, ast.Add) and _is_text(node):
            self._pattern(node)
        else:
            self.generic_visit(node)

    def _pattern(self, node: ast.expr) -> None:
        parts = list(_parts(node))
        choices = [part if isinstance(part, list) else [part] for part in parts]
        count = 1
        for one in choices:
            count *= len(one)
        if count > MOST_CHOICES:
            choices = [
                one if isinstance(part, (str, list)) and len(one) == 1 else [None]
                for part, one in zip(parts, choices, strict=True)
            ]
        for chosen in product(*choices):
            self.note(node.lineno, _numbered(chosen))
        for inner in _inner(node):
            self.visit(inner)


def _is_text(node: ast.expr) -> bool:
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return _is_text(node.left) or _is_text(node.right)
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def _parts(node: ast.expr) -> Iterator[Any]:
    """Yield fixed text, None for a place, or a list of choices (each text or a tuple of parts)."""
    if isinstance(node, ast.Constant):
        yield _escaped(str(node.value))
    elif isinstance(node, ast.JoinedStr):
        for value in node.values:
            yield from _parts(value)
    elif isinstance(node, ast.FormattedValue):
        if isinstance(node.value, (ast.IfExp, ast.Call, ast.JoinedStr)) and node.format_spec is None:
            yield from _parts(node.value)
        else:
            yield None
    elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        yield from _parts(node.left)
        yield from _parts(node.right)
    elif isinstance(node, ast.IfExp):
        branches = []
        for branch in (node.body, node.orelse):
            parts = list(_parts(branch))
            if any(isinstance(part, list) for part in parts):
                yield None
                return
            branches.append(tuple(parts))
        if all(branch == (None,) for branch in branches):
            yield None
        else:
            yield branches
    elif isinstance(node, ast.Call) and _is_plural(node):
        texts = _plural(node)
        if not texts:
            yield None
            return
        yield [(None, text.removeprefix("{0}")) for text in texts]
    else:
        yield None


def _name(node: ast.Call) -> str:
    return node.func.attr if isinstance(node.func, ast.Attribute) else str(getattr(node.func, "id", ""))


def _is_plural(node: ast.Call) -> bool:
    """Return whether a call gives a number with its noun: ``plural(n, "place")``, ``count(n, "reading")``."""
    name, nouns = _name(node), node.args[1:]
    if name == "plural":
        return bool(nouns)
    return (
        name == "count"
        and isinstance(node.func, ast.Name)
        and bool(nouns)
        and all(isinstance(one, ast.Constant) and isinstance(one.value, str) for one in nouns)
    )


def _plural(node: ast.Call) -> list[str]:
    """Return both forms of ``plural(count, "place", "places")``."""
    words = [one.value for one in node.args[1:] if isinstance(one, ast.Constant) and isinstance(one.value, str)]
    words += [
        k.value.value for k in node.keywords if isinstance(k.value, ast.Constant) and isinstance(k.value.value, str)
    ]
    if not words:
        return []
    one, many = words[0], words[1] if len(words) > 1 else words[0] + "s"
    return [f"{{0}} {one}", f"{{0}} {many}"]


def _inner(node: ast.expr) -> Iterator[ast.expr]:
    """Yield the expressions at the places of a pattern: they may say something by themselves."""
    if isinstance(node, ast.JoinedStr):
        for value in node.values:
            if isinstance(value, ast.FormattedValue):
                yield value.value
    elif isinstance(node, ast.BinOp):
        for side in (node.left, node.right):
            if isinstance(side, (ast.JoinedStr, ast.BinOp)):
                yield from _inner(side)
            elif not isinstance(side, ast.Constant):
                yield side


def _flat(parts: tuple[Any, ...]) -> Iterator[str | None]:
    for part in parts:
        if isinstance(part, tuple):
            yield from _flat(part)
        else:
            yield part


def _numbered(parts: tuple[Any, ...]) -> str:
    """Return a message with its places numbered; places side by side are one."""
    said, number, last_was_place = "", 0, False
    for part in _flat(parts):
        if part is None:
            if not last_was_place:
                said += f"{{{number}}}"
                number += 1
            last_was_place = True
        elif part:
            said += part
            last_was_place = False
    return said


def _escaped(text: str) -> str:
    """Return a fixed text; one with braces of its own is no message (formats, JSON)."""
    return "" if re.search(r"\{\d+\}", text) else text


def read(source: str) -> list[tuple[int, str]]:
    """Return line and message of all that a file says."""
    reader = _Reader()
    try:
        tree = ast.parse(source)
    except SyntaxError as fault:
        print(f"a file was left out: {fault}", file=sys.stderr)
        return []
    reader.visit(tree)
    return reader.found


def extract(fileobj: Any, keywords: Any, comment_tags: Any, options: Any) -> Iterator[tuple[int, str, str, list[str]]]:
    """Yield messages as Babel takes them."""
    for line, text in read(fileobj.read().decode("utf-8")):
        yield line, "_", text, []
