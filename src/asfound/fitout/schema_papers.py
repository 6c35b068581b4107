"""Read what follows from a build: documents, bulletins, software, spares, interchange, rules."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from asfound.errors import KnowledgeError
from asfound.fitout.catalogue_papers import (
    Bulletin,
    Document,
    DocumentClash,
    Fits,
    HardwareCheck,
    Interchange,
    Rule,
    RuleLine,
    Said,
    Software,
    Spare,
)
from asfound.fitout.schema_words import Names, fits_list, one_of_or, text, texts, whole

if TYPE_CHECKING:
    from asfound.sources.yaml_lines import Node

QUANTITIES = ("per_cylinder", "per_two_cylinders", "per_row", "per_strip")
SEVERITIES = ("stop", "visit", "clash", "soon", "note")


def read_document(node: Node, names: Names) -> Document:
    """Return the document that stands here."""
    node.only("id", "title", "scope", "revision", "subject", "slots", "states")
    title, scope, revision = node.want("title", "scope", "revision")
    slots, states = node.get("slots"), node.get("states")
    return Document(
        id=one_of_or(node, "id"),
        title=title.text(),
        scope=tuple(one.one_of(names.owners) for one in scope.items()),
        revision=revision.text(),
        subject=text(node, "subject"),
        slots=tuple(one.one_of(names.slots) for one in slots.items()) if slots else (),
        states=tuple(_said(one) for one in states.items()) if states else (),
    )


def _said(node: Node) -> Said:
    node.only("about", "revision", "says")
    about, revision, says = node.want("about", "revision", "says")
    return Said(about=about.text(), revision=revision.text(), says=says.text())


def read_clash(node: Node, names: Names) -> DocumentClash:
    """Return documents that contradict each other."""
    node.only("documents", "about", "agree_from", "says")
    documents, about, agree_from, says = node.want("documents", "about", "agree_from", "says")
    agree_from.only(*names.documents)
    return DocumentClash(
        documents=tuple(one.one_of(names.documents) for one in documents.items()),
        about=about.text(),
        agree_from={name: one.text() for name, one in agree_from.mapping().items()},
        says=says.text(),
    )


def read_bulletin(node: Node, names: Names) -> Bulletin:
    """Return the bulletin that stands here; it applies by what is fitted, or by the gas."""
    node.only("id", "title", "says", "applies", "gas")
    title, says = node.want("title", "says")
    above = None
    if gas := node.get("gas"):
        gas.only("hydrogen_sulphide_above_mol_percent")
        above = gas.want("hydrogen_sulphide_above_mol_percent")[0].number(low=0, high=100) / 100.0
    applies = fits_list(node, "applies", names)
    if not applies and above is None:
        raise node.error("nothing says where this bulletin applies.", allowed="applies: [...] or gas: {...}")
    return Bulletin(
        id=one_of_or(node, "id"), title=title.text(), says=says.text(), applies=applies, hydrogen_sulphide_above=above
    )


def read_software(node: Node, names: Names) -> Software:
    """Return the file for some hardware; without hardware facts to check it is refused."""
    node.only("id", "title", "for", "checks", "refuses", "refuses_says", "with_variants")
    title, written_for, checks = node.want("title", "for", "checks")
    refuses = node.get("refuses")
    if not checks.items():
        raise checks.error("a file without a hardware fact to check before loading.", allowed="at least one check")
    return Software(
        id=one_of_or(node, "id"),
        title=title.text(),
        written_for=tuple(one.one_of(names.owners) for one in written_for.items()),
        checks=tuple(_check(one, names) for one in checks.items()),
        refuses=tuple(one.one_of(names.owners) for one in refuses.items()) if refuses else (),
        refuses_says=text(node, "refuses_says"),
        with_variants=tuple(_with_variant(one, names) for one in found.items())
        if (found := node.get("with_variants"))
        else (),
    )


def _with_variant(node: Node, names: Names) -> Fits:
    node.only("slot", "variant")
    slot, variant = node.want("slot", "variant")
    name = slot.one_of(names.slots)
    return Fits(slot=name, variants=(variant.one_of(names.slots[name].variants),))


def _check(node: Node, names: Names) -> HardwareCheck:
    line = _line(node, names, extra=("says",))
    if not line.character:
        raise node.error("a hardware check names a character to look at.", allowed="character: one of the slot")
    return HardwareCheck(slot=line.slot, character=line.character, states=line.states, says=node.want("says")[0].text())


def read_spare(node: Node, names: Names) -> Spare:
    """Return the spare that stands here."""
    node.only("id", "title", "fits", "quantity", "condition")
    title, _ = node.want("title", "fits")
    quantity = node.get("quantity")
    many: int | str = 1
    if quantity is not None:
        many = quantity.one_of(QUANTITIES) if isinstance(quantity.value, str) else whole(quantity, 1, 99)
    return Spare(
        id=one_of_or(node, "id"),
        title=title.text(),
        fits=fits_list(node, "fits", names),
        quantity=many,
        condition=text(node, "condition"),
    )


def read_interchange(node: Node, names: Names) -> Interchange:
    """Return one row of the interchange table."""
    node.only("id", "part", "in_place_of", "direction", "condition", "concerns", "setting", "families")
    part, other, direction, condition, _ = node.want("part", "in_place_of", "direction", "condition", "concerns")
    families = node.get("families")
    return Interchange(
        id=one_of_or(node, "id"),
        part=part.text(),
        in_place_of=other.text(),
        direction=cast("Any", direction.one_of(("both", "one_way", "no"))),
        condition=condition.text(),
        concerns=fits_list(node, "concerns", names),
        setting=text(node, "setting"),
        families=tuple(one.one_of(names.families) for one in families.items()) if families else (),
    )


def read_rule(node: Node, names: Names) -> Rule:
    """Return a rule about what cannot be right together."""
    node.only("id", "code", "when", "unless", "says", "next_step", "bulletin", "severity", "cautions")
    code, when, says, next_step = node.want("code", "when", "says", "next_step")
    unless, bulletin, severity = node.get("unless"), node.get("bulletin"), node.get("severity")
    return Rule(
        id=one_of_or(node, "id"),
        code=_code(code),
        when=tuple(_line(one, names) for one in when.items()),
        unless=tuple(_line(one, names) for one in unless.items()) if unless else (),
        says=says.text(),
        next_step=next_step.text(),
        bulletin=bulletin.one_of(names.bulletins) if bulletin else "",
        severity=cast("Any", severity.one_of(SEVERITIES)) if severity else "clash",
        cautions=texts(node, "cautions"),
    )


RULE_CODES = ("FT-07", "FT-08", "FT-13")


def _code(node: Node) -> str:
    return node.one_of(RULE_CODES)


def _line(node: Node, names: Names, extra: tuple[str, ...] = ()) -> RuleLine:
    node.only("slot", "variants", "character", "states", *extra)
    slot = names.slots[node.want("slot")[0].one_of(names.slots)]
    variants, character, states = node.get("variants"), node.get("character"), node.get("states")
    if variants is None and character is None:
        raise _needs(node)
    name = character.one_of(slot.characters) if character else ""
    return RuleLine(
        slot=slot.id,
        variants=tuple(one.one_of(slot.variants) for one in variants.items()) if variants else (),
        character=name,
        states=tuple(one.one_of(slot.characters[name].states) for one in states.items()) if states and name else (),
    )


def _needs(node: Node) -> KnowledgeError:
    return node.error(
        "this line names neither variants nor a character.", allowed="variants: [...], or character and states"
    )
