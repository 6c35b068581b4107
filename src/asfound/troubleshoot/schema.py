"""Read files of troubleshooting knowledge and refuse what cannot be: every complaint names file, line and column."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import Any, TypeVar, cast

from asfound.errors import KnowledgeError
from asfound.sources import yaml_lines
from asfound.sources.register import keys
from asfound.sources.yaml_lines import Node
from asfound.troubleshoot import knowledge as k
from asfound.troubleshoot.defeat_words import DEFEATS, FORBIDS

T = TypeVar("T")
HEADS = ("knowledge", "title", "edition", "source", "words", "priors", "unlisted", "prices")
JOINED = ("words", "priors", "prices")
"""Heads of which a later file may say a part anew; the rest stays as it was."""
SECTIONS = ("symptoms", "causes", "tests", "repairs", "findings")
PRICES = ("stop", "isolate", "waiting", "hazard", "proof_run", "call")
STEP = ("id", "title", "minutes", "waiting", "state", "hazards", "slot", "source")
CODE = re.compile(r"[A-Z]{2}-[0-9]{2}\Z")
MODE = re.compile(r"[A-Z]{3}\Z")
MECHANISM = re.compile(r"[1-6]\.[0-9]\Z")
CLAUSE = re.compile(r"[.;:,]")


def read_knowledge(files: Sequence[tuple[str, str]], *, hazards: Collection[str], base: str = "") -> k.Knowledge:
    """Return the knowledge that these files make together.

    Parameters
    ----------
    files : sequence of (name, text)
        The first sets the heads; a later one may say parts of ``words``, ``priors`` and ``prices`` anew, and its
        ``source`` (any text there) holds for its own items. An item of a later file goes before an item of the same id
        of an earlier one only when it says ``replaces: true`` - else it is refused.
    hazards : collection of str
        Tags that the register of cautions knows.
    base : str
        Name for complaints about the whole.

    Raises
    ------
    KnowledgeError
        A name that is none, a chance that is none, a cause without test or repair, a step that defeats a protection.
    """
    roots = [yaml_lines.load(text, file=name) for name, text in files]
    if not roots:
        raise KnowledgeError(base or "knowledge", 1, 1, "there are no files.", allowed="at least one .yaml file")
    heads: dict[str, list[Node]] = {}
    sections: dict[str, dict[str, Node]] = {name: {} for name in SECTIONS}
    heard: list[Node] = []
    for root in roots:
        root.only(*HEADS, *SECTIONS)
        for key, node in root.mapping().items():
            if key in HEADS:
                heads.setdefault(key, []).append(node)
            elif key == "findings":
                heard += node.items()
            else:
                _join(sections[key], node.items())
    roots[0].want(*HEADS)
    read = _Reader(heads, sections, hazards)
    return read.knowledge(heard, hashlib.sha256("\0".join(text for _, text in files).encode()).hexdigest())


def _join(known: dict[str, Node], more: Iterable[Node]) -> None:
    for node in more:
        (name,) = node.want("id")
        replaces = node.get("replaces")
        if name.text() in known and not (replaces and replaces.truth()):
            first = known[name.text()]
            raise name.error(
                f"'{name.text()}' stands in {first.file} line {first.line} already.", allowed="replaces: true"
            )
        known[name.text()] = node


class _Reader:
    def __init__(
        self, heads: dict[str, list[Node]], sections: dict[str, dict[str, Node]], hazards: Collection[str]
    ) -> None:
        self.heads = {key: nodes[0] for key, nodes in heads.items()}
        self.nodes, self.hazards = sections, hazards
        joined = {key: {name: one for node in heads[key] for name, one in node.mapping().items()} for key in JOINED}
        self.words = {word: node.number(low=1e-4, high=1 - 1e-4) for word, node in joined["words"].items()}
        self.priors = {word: node.number(low=1e-6) for word, node in joined["priors"].items()}
        for node in heads["prices"]:
            node.only(*PRICES)
        self.prices = joined["prices"]
        self.first = heads["source"][0].file
        self.source = heads["source"][0].one_of(keys())
        self.sources = {node.file: node.text() for node in heads["source"][1:]}

    def knowledge(self, heard: list[Node], digest: str) -> k.Knowledge:
        found = k.Knowledge(
            name=self.heads["knowledge"].text(),
            title=self.heads["title"].text(),
            edition=int(self.heads["edition"].number(low=1)),
            source=self.source,
            words=self.words,
            unlisted=self.chance(self.heads["unlisted"]),
            prices=k.Prices(**{key: node.number(low=0) for key, node in self.prices.items()}),
            symptoms=self.each("symptoms", self.symptom),
            causes=self.each("causes", self.cause),
            tests=self.each("tests", self.test),
            repairs=self.each("repairs", self.repair),
            findings=self.findings(heard),
            digest=digest,
        )
        self.complete(found)
        return found

    def each(self, section: str, read: Callable[[Node], T]) -> dict[str, T]:
        return {name: read(node) for name, node in self.nodes[section].items()}

    def symptom(self, node: Node) -> k.Symptom:
        node.only("id", "title", "group", "modes", "urgent", "seen_in", "source", "replaces")
        name, title, group, modes, urgent, seen = node.want("id", "title", "group", "modes", "urgent", "seen_in")
        return k.Symptom(
            id=name.text(),
            title=title.text(),
            group=group.text(),
            modes=tuple(_like(mode, MODE, "a failure mode of ISO 14224, as PDE") for mode in modes.items()),
            urgent=urgent.truth(),
            seen_in=tuple(one.text() for one in seen.items()),
            source=self.source_of(node),
        )

    def cause(self, node: Node) -> k.Cause:
        node.only("id", "title", "system", "engine", "slot", "prior", "mechanism", "leads_to", "source", "replaces")
        name, title, system, prior, mechanism, leads = node.want(
            "id", "title", "system", "prior", "mechanism", "leads_to"
        )
        engine, slot = node.get("engine"), node.get("slot")
        return k.Cause(
            id=name.text(),
            title=title.text(),
            system=system.text(),
            engine=engine.one_of(k.KINDS) if engine else "any",
            slot=slot.text() if slot else "",
            mechanism=_like(mechanism, MECHANISM, "a failure mechanism of ISO 14224, as '2.4'"),
            prior=self.priors[prior.one_of(self.priors)],
            leads_to=self.chances(leads, "symptoms"),
            source=self.source_of(node),
        )

    def test(self, node: Node) -> k.Test:
        node.only(*STEP, "positive", "negative", "given", "otherwise", "moves", "replaces")
        positive, given, otherwise = node.want("positive", "given", "otherwise")
        moves, negative = node.get("moves"), node.get("negative")
        return k.Test(
            **self.step(node),
            positive=_keeps_protection(positive),
            negative=_keeps_protection(negative) if negative else "",
            given=self.chances(given, "causes"),
            otherwise=self.chance(otherwise),
            moves=moves.truth() if moves else False,
        )

    def repair(self, node: Node) -> k.Repair:
        node.only(*STEP, "fixes", "replaces")
        return k.Repair(**self.step(node), fixes=self.chances(node.want("fixes")[0], "causes"))

    def step(self, node: Node) -> dict[str, Any]:
        name, title, minutes, state, hazards = node.want("id", "title", "minutes", "state", "hazards")
        waiting, slot = node.get("waiting"), node.get("slot")
        tags = tuple(tag.one_of(sorted(self.hazards)) for tag in hazards.items())
        if state.one_of(k.STATES) == "isolated" and "loto" not in tags:
            raise hazards.error("a step on the isolated engine has the hazard 'loto'.", allowed="[loto, ...]")
        return {
            "id": name.text(),
            "title": _keeps_protection(title),
            "minutes": minutes.number(low=0),
            "waiting": waiting.number(low=0) if waiting else 0.0,
            "state": cast("k.State", state.text()),
            "hazards": tags,
            "slot": slot.text() if slot else "",
            "source": self.source_of(node),
        }

    def findings(self, nodes: list[Node]) -> dict[str, tuple[k.Heard, ...]]:
        found: dict[str, tuple[k.Heard, ...]] = {}
        for node in nodes:
            node.only("code", "about", "says")
            code, about, says = node.want("code", "about", "says")
            symptom = about.one_of((*self.nodes["symptoms"], *self.nodes["tests"])) in self.nodes["symptoms"]
            said = cast("k.Says", says.one_of(("present", "absent") if symptom else ("positive", "negative")))
            one = k.Heard(code=_like(code, CODE, "the code of a finding, as CY-10"), about=about.text(), says=said)
            found[one.code] = (*found.get(one.code, ()), one)
        return found

    def chances(self, node: Node, of: str) -> Mapping[str, float]:
        """Return chances by id; each id is one of a section of the files."""
        for name in node.mapping():
            if name not in self.nodes[of]:
                raise node.error_at(name, f"none of the {of} is called '{name}'.")
        return {name: self.chance(one) for name, one in node.mapping().items()}

    def chance(self, node: Node) -> float:
        """Return a chance, given as a word of the file or as a number that is neither 0 nor 1."""
        if isinstance(node.value, str):
            return self.words[node.one_of(self.words)]
        return node.number(low=1e-4, high=1 - 1e-4)

    def source_of(self, node: Node) -> str:
        """Return where an item is from: a key of the register in the first file, any text in those of a company."""
        own = node.get("source")
        if node.file != self.first:
            return own.text() if own else self.sources.get(node.file, node.file)
        return own.one_of(keys()) if own else self.source

    def complete(self, found: k.Knowledge) -> None:
        """Refuse a cause that nothing can find or repair, and a symptom that nothing leads to."""
        tested = {cause for one in found.tests.values() for cause in one.given}
        repaired = {cause for one in found.repairs.values() for cause in one.fixes}
        shown = {symptom for one in found.causes.values() for symptom in one.leads_to}
        for name, node in self.nodes["causes"].items():
            if name not in tested or name not in repaired:
                raise node.error(f"no {'test' if name not in tested else 'repair'} names the cause '{name}'.")
        for name, node in self.nodes["symptoms"].items():
            if name not in shown:
                raise node.error(f"no cause leads to the symptom '{name}'.")


def _like(node: Node, pattern: re.Pattern[str], what: str) -> str:
    if not pattern.match(node.text()):
        raise node.error(f"'{node.text()}' is not {what}.")
    return node.text()


def defeats_protection(text: str) -> bool:
    """Whether words would have somebody defeat a protection (words that forbid it do not count)."""
    clauses = CLAUSE.split(text.lower())
    return any(DEFEATS.search(clause) and not FORBIDS.search(clause) for clause in clauses)


def _keeps_protection(node: Node) -> str:
    if defeats_protection(node.text()):
        raise node.error("no step may defeat a protection.", allowed="a step that leaves every protection in force")
    return node.text()
