"""Words by which a step would have somebody defeat a protection: English, German, Spanish.

A check of words, no proof. It errs towards refusing: what is refused names its line, and whoever writes it says it in
other words or leaves it out.
"""

from __future__ import annotations

import re

DEFEAT = (
    r"(\b(bypass|bridg|jumper|defeat|overrid|overrul|disabl|deactivat|inhibit|block|forc|short|remov|wedg|tie|unplug|"
    r"disconnect|mask|rais|widen|increas|lengthen|silenc|gag)\w*\b|\b(hold|held|strap|loop|link|pull)\w*\b.*\b(in|out|fuse)\b|"
    r"\b(switch|turn|tak|leav|run)\w*\b.*\b(off|out)\b|\bset\b.*\b(higher|longer)\b)"
)
GUARD = (
    r"\b(protect|trip|shutdown|interlock|safety|safeties|alarm|permissive|limit switch|guard|relief|emergency|"
    r"overspeed|detector)"
)
ACROSS = (
    r"(\b(jumper|bridg|shunt|wedg|gag)\w*\b|\b(strap|loop|link)\w*\b.*\bout\b|\bwire across\b|"
    r"\btap(e|ed|ing)\b|\btied? back\b)"
)
SWITCH = r"\b(switch|relay|contact|sensor|transmitter)(es|s)?\b"
APART = rf"\b(switch|turn|tak|leav|run|set)\w*\b.*{GUARD}.*\b(off|out|higher|longer)\b"
CLOSED = r"\b(clos|plug|cap|blank)\w*\b.*\brelief\b"
GERMAN_GUARD = (
    r"(schutz(?!brille|handschuh|kleid|kappe|haube)|w(ä|ae)chter|abschalt(ung|grenz|wert|schwelle|kette)|"
    r"ausl(ö|oe)s(ung|e|wert|grenz)|verriegel|"
    r"sicherheits|not-?aus|notstopp|notabschalt|alarm|druckschalter|drehzahlbegrenz|(ü|ue)berdrehzahl|endschalter|"
    r"(ü|ue)berdruckventil|pressostat|gasmelder|gaswarn|melder|gasspür|(ö|oe)lnebel)"
)
GERMAN_DEFEAT = (
    r"((ü|ue)berbr(ü|ue)ck|umgeh|umgangen|aushebel|ausgehebelt|au(ß|ss)er (kraft|betrieb|funktion)|"
    r"stilllegen|stillgelegt|lahmleg|"
    r"lahmgelegt|"
    r"abklemm|abgeklemmt|ausschalt|ausgeschaltet|abschalten|abgeschaltet|deaktivier|unterdr(ü|ue)ck|blockier|"
    r"kurzschlie|kurzgeschlossen|aufheben|aufgehoben|hochsetz|hochgesetzt|"
    r"heraufsetz|heraufgesetzt|erh(ö|oe)h|anheb|angehoben|"
    r"festklemm|zuhalten|zugehalten|abzieh|abgezogen|abdeck|stummschalt|ausblend|zwangs|wegnehm|weglass)"
)
GERMAN_VERB = r"\b(klemm|schalt|h(ä|ae)ng|zieh|stell|setz|leg|nehm|br(ü|ue)ck)\w*\b"
GERMAN_APART = rf"{GERMAN_VERB}.*{GERMAN_GUARD}.*\b(ab|aus|hoch|h(ö|oe)her|lahm|still|weg)\b"
SPANISH_GUARD = (
    r"(protecci|disparo|parada|paro de|enclavamiento|seguridad|alarma|presostato|v(á|a)lvula de (alivio|seguridad)|"
    r"sobrevelocidad|detector|final de carrera|interruptor de (nivel|presi|caudal|temperatura)|permisivo)"
)
SPANISH_DEFEAT = (
    r"\b(puente|puentea|anul|desactiv|inhib|deshabilit|inhabilit|bloque|desconect|cortocircuit|quit(ar|e|a)\b|elev|"
    r"sub(ir|a)\b|aument|tap(ar|e)\b|silenci|forz|fuerc|elud|salt(ar|e)|retir|neutraliz|burl)"
)
DEFEATS = re.compile(
    f"{DEFEAT}.*{GUARD}|{GUARD}.*{DEFEAT}|{ACROSS}.*{SWITCH}|{SWITCH}.*{ACROSS}|{APART}|{CLOSED}"
    f"|{GERMAN_DEFEAT}.*{GERMAN_GUARD}|{GERMAN_GUARD}.*{GERMAN_DEFEAT}|{GERMAN_APART}"
    f"|{SPANISH_DEFEAT}.*{SPANISH_GUARD}|{SPANISH_GUARD}.*{SPANISH_DEFEAT}",
    re.IGNORECASE,
)
"""Words that would have somebody defeat a protection; refused unless the same clause says never or do not."""
FORBIDS = re.compile(
    r"\b(never|do not|must not|nie|niemals|nicht|darf kein\w*|nunca|jam(á|a)s|no (se )?(debe|puede|permite)\w*|"
    r"no (puent|anul|desactiv|inhib|quit|desconect)\w*)\b",
    re.IGNORECASE,
)
