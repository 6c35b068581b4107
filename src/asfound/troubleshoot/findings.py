"""Findings of troubleshooting: where a case stands, what does not go together, protections found off, fault codes."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.quantities.findings import Case
from asfound.quantities.words import Finding
from asfound.troubleshoot import findings_case, findings_codes, findings_protections
from asfound.troubleshoot.of_case import of_case
from asfound.troubleshoot.told import Told

SUBJECTS = (findings_protections, findings_case, findings_codes)


def find(case: Case) -> Iterator[Finding]:
    """Yield what each subject finds; nothing is worked out where nothing was told."""
    told: Told = case.visit.get("trouble") or Told()
    if told.empty and not (told.protections or told.faults or told.problems or case.visit.get("settings")):
        return
    trouble = of_case(case)
    for subject in SUBJECTS:
        yield from subject.find(trouble)
