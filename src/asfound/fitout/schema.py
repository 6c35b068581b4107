"""Read catalogue files and refuse what cannot be: every complaint names file, line, column, and what may stand there.

`read_catalogue` joins the sections of all files, reads each item into its dataclass, then checks the names that one
part uses of another (a spare that fits an unknown variant is found here, not on site).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import PurePath
from typing import Any, Literal, TypeVar, cast

from asfound.errors import KnowledgeError
from asfound.fitout import catalogue as c
from asfound.fitout.schema_papers import (
    read_bulletin,
    read_clash,
    read_document,
    read_interchange,
    read_rule,
    read_software,
    read_spare,
)
from asfound.fitout.schema_slots import read_slot
from asfound.fitout.schema_words import Names, chance, one_of_or, texts, whole
from asfound.sources import yaml_lines
from asfound.sources.register import keys
from asfound.sources.yaml_lines import Node

T = TypeVar("T")
HEADS = ("catalogue", "title", "edition", "source", "rates")
SECTIONS = (
    "builders",
    "families",
    "generations",
    "kits",
    "shares",
    "label_patterns",
    "setups",
    "slots",
    "documents",
    "contradicting_documents",
    "bulletins",
    "software",
    "spares",
    "interchange",
    "rules",
)
ENGINE_STATES = ("running", "stopped", "isolated")


def read_catalogue(files: Sequence[tuple[str, str]]) -> c.Catalogue:
    """Return the catalogue that these files make together.

    Parameters
    ----------
    files : sequence of (name, text)
        In the order of their names; the name is used in complaints.

    Raises
    ------
    KnowledgeError
    """
    heads, sections, first = _join([yaml_lines.load(text, file=name) for name, text in files])
    names = Names()
    families = _named(sections["families"], _family)
    names.families = tuple(families)
    generations = _named(sections["generations"], lambda node: _generation(node, names))
    names.generations = tuple(generations)
    for node in sections["generations"]:
        _known_each(node.get("from"), names.generations)
    for node in sections["families"]:
        if mirror := node.get("mirror_of"):
            mirror.one_of(names.families)
    kits = _named(sections["kits"], lambda node: _kit(node, names))
    names.kits = tuple(kits)
    patterns = _named(sections["label_patterns"], lambda node: _pattern(node, names))
    names.patterns = patterns
    setups = _named(sections["setups"], _setup) or {"running": c.Setup(id="running", title="engine running", minutes=0)}
    names.setups = tuple(setups)
    names.family_titles = {one.id: one.title for one in families.values()}
    names.generation_titles = {one.id: one.title for one in generations.values()}
    slots = _named(sections["slots"], lambda node: read_slot(node, names))
    names.slots = slots
    bulletins = _named(sections["bulletins"], lambda node: read_bulletin(node, names))
    names.bulletins = tuple(bulletins)
    documents = _named(sections["documents"], lambda node: read_document(node, names))
    names.documents = tuple(documents)
    return c.Catalogue(
        name=_head(heads, first, "catalogue"),
        title=_head(heads, first, "title"),
        edition=int(heads["edition"].number(low=1)) if "edition" in heads else 1,
        source=heads["source"].one_of(keys()) if "source" in heads else _no_source(first),
        digest=digest(files),
        rates=_rates(heads.get("rates")),
        families=families,
        generations=generations,
        kits=kits,
        shares=tuple(_shares(node, names) for node in sections["shares"]),
        label_patterns=patterns,
        setups=setups,
        slots=slots,
        documents=documents,
        document_clashes=tuple(read_clash(node, names) for node in sections["contradicting_documents"]),
        bulletins=bulletins,
        software=_named(sections["software"], lambda node: read_software(node, names)),
        spares=_named(sections["spares"], lambda node: read_spare(node, names)),
        interchange=tuple(_named(sections["interchange"], lambda node: read_interchange(node, names)).values()),
        rules=tuple(_named(sections["rules"], lambda node: read_rule(node, names)).values()),
    )


def digest(files: Sequence[tuple[str, str]]) -> str:
    """Return SHA-256 (hex) over the names and the text of the files, line ends made one."""
    total = hashlib.sha256()
    for name, text in sorted((PurePath(name).name, text) for name, text in files):
        for part in (name, text.replace("\r\n", "\n")):
            total.update(len(part.encode()).to_bytes(8, "big") + part.encode())
    return total.hexdigest()


def _join(roots: Iterable[Node]) -> tuple[dict[str, Node], dict[str, list[Node]], Node]:
    heads: dict[str, Node] = {}
    sections: dict[str, list[Node]] = {name: [] for name in SECTIONS}
    first = None
    for root in roots:
        first = first or root
        root.only(*HEADS, *SECTIONS)
        for key, node in root.mapping().items():
            if key in SECTIONS:
                sections[key] += node.items()
            elif key in heads:
                raise root.error_at(key, f"'{key}' stands in {heads[key].file} already.")
            else:
                heads[key] = node
    if first is None:
        raise KnowledgeError("catalogue", 1, 1, "there are no files.", allowed="at least one .yaml file")
    return heads, sections, first


def _head(heads: Mapping[str, Node], first: Node, key: str) -> str:
    if key not in heads:
        raise first.error(f"no file says '{key}'.", allowed=f"a line '{key}: ...' in one of the files")
    return heads[key].text()


def _no_source(first: Node) -> str:
    raise first.error("no file says 'source'.", allowed="a key of the register of sources, e.g. common_practice")


def _named(nodes: Iterable[Node], read: Callable[[Node], T]) -> dict[str, T]:
    found: dict[str, T] = {}
    for node in nodes:
        (name,) = node.want("id")
        if name.text() in found:
            raise name.error(f"'{name.value}' stands twice.", allowed="an id that is used once")
        found[name.text()] = read(node)
    return found


def _known_each(node: Node | None, known: Iterable[str]) -> tuple[str, ...]:
    return tuple(one.one_of(known) for one in node.items()) if node else ()


def _family(node: Node) -> c.Family:
    node.only(
        "id",
        "title",
        "builder",
        "layout",
        "cylinders",
        "bank_angle_deg",
        "combustion",
        "bore_mm",
        "stroke_mm",
        "swept_l",
        "rated",
        "turbochargers",
        "turbocharger_end",
        "main_bearings",
        "catalyst",
        "counted_from",
        "mirror_of",
    )
    title, layout, cylinders, turbos, end, bearings, counted = node.want(
        "title",
        "layout",
        "cylinders",
        "turbochargers",
        "turbocharger_end",
        "main_bearings",
        "counted_from",
    )
    ends: tuple[Literal["free", "driving"], ...] = ("free", "driving")
    return c.Family(
        id=node.want("id")[0].text(),
        title=title.text(),
        builder=_text(node, "builder"),
        layout=cast("Literal['inline', 'vee']", layout.one_of(("inline", "vee"))),
        cylinders=whole(cylinders, 1, 24),
        bore_mm=_number(node, "bore_mm", 0.0, 20, 1000),
        stroke_mm=_number(node, "stroke_mm", 0.0, 20, 3000),
        swept_l=_number(node, "swept_l", 0.0, 0.1, 5000),
        rated=tuple(_rating(one) for one in rated.items()) if (rated := node.get("rated")) else (),
        turbochargers=whole(turbos, 0, 8),
        turbocharger_end=cast("Any", end.one_of(ends)),
        main_bearings=whole(bearings, 2, 40),
        counted_from=cast("Any", counted.one_of(ends)),
        bank_angle_deg=_number(node, "bank_angle_deg", 0.0, 0, 180),
        combustion=_text(node, "combustion"),
        catalyst=_truth(node, "catalyst"),
        mirror_of=_text(node, "mirror_of"),
    )


def _rating(node: Node) -> c.Rating:
    node.only("kw", "rpm", "bmep_bar")
    kw, rpm, bmep = node.want("kw", "rpm", "bmep_bar")
    return c.Rating(kw=kw.number(low=1), rpm=rpm.number(low=50, high=5000), bmep_bar=bmep.number(low=0.5, high=40))


def _generation(node: Node, names: Names) -> c.Generation:
    node.only("id", "title", "built", "families", "driven", "from", "says")
    title, built, families = node.want("title", "built", "families")
    return c.Generation(
        id=one_of_or(node, "id"),
        title=title.text(),
        built=_built(built),
        families=_known_each(families, names.families),
        driven=_known_each(node.get("driven"), ("compressor", "generator")),
        grew_from=texts(node, "from"),
        says=_text(node, "says"),
    )


def _built(node: Node) -> tuple[int, int | None]:
    years = node.items()
    if len(years) != 2:
        raise node.error("two years are wanted.", allowed="[first, last], last null while it is built")
    first = int(years[0].number())
    last = None if years[1].value is None else int(years[1].number(low=first))
    return first, last


def _kit(node: Node, names: Names) -> c.Kit:
    node.only("id", "title", "built", "hosts", "says")
    title, built, hosts = node.want("title", "built", "hosts")
    hosts.only(*names.generations)
    return c.Kit(
        id=one_of_or(node, "id"),
        title=title.text(),
        built=_built(built),
        hosts={name: chance(share) for name, share in hosts.mapping().items()},
        says=_text(node, "says"),
    )


def _pattern(node: Node, names: Names) -> c.LabelPattern:
    node.only("id", "title", "pattern", "of")
    title, pattern = node.want("title", "pattern")
    written = pattern.items() if isinstance(pattern.value, list) else [pattern]
    return c.LabelPattern(
        id=one_of_or(node, "id"),
        title=title.text(),
        patterns=tuple(one.text() for one in written),
        of=of.one_of((*names.generations, *names.kits)) if (of := node.get("of")) else "",
    )


def _setup(node: Node) -> c.Setup:
    node.only("id", "title", "minutes", "risk_minutes")
    name, title, minutes = node.want("id", "title", "minutes")
    return c.Setup(
        id=name.one_of(ENGINE_STATES),
        title=title.text(),
        minutes=minutes.number(low=0),
        risk_minutes=_number(node, "risk_minutes", 0.0, 0, 1e4),
    )


def _shares(node: Node, names: Names) -> c.Shares:
    node.only("families", "driven", "of")
    families, driven, of = node.want("families", "driven", "of")
    of.only(*names.generations)
    return c.Shares(
        families=_known_each(families, names.families),
        driven=driven.one_of(("compressor", "generator")),
        of={name: chance(share) for name, share in of.mapping().items()},
    )


def _rates(node: Node | None) -> c.Rates:
    from asfound.fitout.looks import HOWS

    if node is None:
        return c.Rates()
    plain = ("swapped", "unlisted", "unknown_build", "plate_moved")
    pairs = ("new_rivets", "number_differs")
    node.only(*plain, *pairs, "kinds")
    given: dict[str, Any] = {name: chance(one) for name in plain if (one := node.get(name))}
    for name in pairs:
        if pair := node.get(name):
            pair.only("moved", "stayed")
            given[name] = tuple(chance(one) for one in pair.want("moved", "stayed"))
    if kinds := node.get("kinds"):
        kinds.only(*HOWS)
        given["kinds"] = {name: chance(one) for name, one in kinds.mapping().items()}
    return c.Rates(**given)


def _text(node: Node, key: str, default: str = "") -> str:
    found = node.get(key)
    return default if found is None else found.text()


def _number(node: Node, key: str, default: float, low: float, high: float) -> float:
    found = node.get(key)
    return default if found is None else found.number(low=low, high=high)


def _truth(node: Node, key: str) -> bool:
    found = node.get(key)
    return False if found is None else found.truth()
