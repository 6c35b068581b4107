"""Findings of protections: found off or bypassed, set otherwise, not judged. No finding proposes to take one off."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.quantities.words import Finding
from asfound.troubleshoot.findings_case import SUBJECT
from asfound.troubleshoot.protections import SAYS_TITLES, ProtectionSaid
from asfound.troubleshoot.shown import Trouble

CAUTIONS = ("protect",)


def find(trouble: Trouble) -> Iterator[Finding]:
    """Yield a finding for each protection that is not known to be in force; the last word about each holds."""
    last: dict[tuple[str, str, str], ProtectionSaid] = {}
    for one in sorted(trouble.protections, key=lambda one: (bool(one.of_setting), one.time)):
        key = (one.id, one.title, one.place)
        if one.of_setting and key in last:
            continue  # a person has looked at it; what the setting's words say is no second copy
        last[key] = one
    for one in last.values():
        if one.says != "in_force":
            yield _of(one)
    yield from _set_moved(trouble)


def _of(one: ProtectionSaid) -> Finding:
    where = f", {one.place}" if one.place else ""
    by = f" (setting {one.of_setting})" if one.of_setting else f" ({one.by})" if one.by else ""
    if one.out_of_force and not one.of_setting:
        code, severity = "TS-10", "stop"
        next_step = (
            "Tell whoever is responsible for the site now; whether the engine runs on is theirs to decide, by its own "
            "manual and the site's rules. Put it back in force, prove it, and write down who did both."
        )
    elif one.out_of_force:
        code, severity = "TS-11", "stop"
        next_step = (
            "The setting's words say that it is off: look at the protection itself today, keep what is seen, and tell "
            "whoever is responsible for the site."
        )
    elif one.says == "setting_moved":
        code, severity = "TS-12", "visit"
        next_step = "Compare with the signed list; a setting is put back or signed by whoever may, never by habit."
    else:
        code, severity = "TS-13", "visit"
        next_step = "Find out whether it is in force before the visit ends; until then it counts as not proved."
    return Finding(
        code=code,
        subject=SUBJECT,
        says=f"{one.title}{where}: {SAYS_TITLES[one.says]}{by}." + (f" {one.note.rstrip('.')}." if one.note else ""),
        severity=severity,  # type: ignore[arg-type]
        next_step=next_step,
        because=(one.entry,) if one.entry else (),
        cautions=CAUTIONS,
        state="as_left" if one.state == "as_left" else "as_found",
        extra={"protection": one.id},
    )


def _set_moved(trouble: Trouble) -> Iterator[Finding]:
    """Yield a finding where the test of set points against the signed list was positive."""
    for one in trouble.witnesses:
        if one.about == "t_prot_compare" and one.says == "positive" and one.weighs in ("yes", "before a change"):
            yield Finding(
                code="TS-12",
                subject=SUBJECT,
                says="Set points or delays of protections differ from the signed list."
                + (f" {one.note.rstrip('.')}." if one.note else ""),
                severity="visit",
                next_step="A setting is put back or signed by whoever may, never by habit; prove the protection after.",
                because=(one.entry or one.code,),
                cautions=CAUTIONS,
            )
