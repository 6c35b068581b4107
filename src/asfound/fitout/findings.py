"""Findings about what is fitted: every contradiction of the identification, and what follows from it and is not right.

Codes FT-01 to FT-17; each has its paragraph in ``docs/findings/FT.md`` and is never used for anything else.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from asfound.fitout.identification import Contradiction, Identification
from asfound.fitout.words import in_100
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding

SUBJECT = "fitted"
CODES = {
    "FT-01": "plate names another generation than the hardware",
    "FT-02": "works number of the plate is not the one in the block",
    "FT-03": "count of temperature units does not fit the channels",
    "FT-04": "not in the catalogue",
    "FT-05": "part-converted: a field kit on an older host",
    "FT-06": "a unit of another family in one place",
    "FT-07": "fitted units that cannot work together",
    "FT-08": "a setting that the part needs is not set",
    "FT-09": "a spare in the store does not fit",
    "FT-10": "a paper in the cupboard is for another build, or too old",
    "FT-11": "documents contradict each other until the revision is noticed",
    "FT-12": "the build is still open",
    "FT-13": "thermocouples of the wrong alloy",
    "FT-14": "two witnesses disagree",
    "FT-15": "something in one place that the catalogue does not know",
    "FT-16": "rivets of the nameplate are new",
    "FT-17": "plate names another family",
}


def find(case: Case) -> Iterable[Finding]:
    """Return the findings about what is fitted; none where nobody has looked yet."""
    identification = case.identification
    if not isinstance(identification, Identification):
        return ()
    return (
        *(_of(one) for one in identification.contradictions),
        *_spares(identification),
        *_papers(identification),
        *_clashing_papers(identification),
        *_open(identification),
    )


def _of(one: Contradiction) -> Finding:
    return Finding(
        code=one.code,
        subject=SUBJECT,
        says=one.says,
        severity=one.severity,
        next_step=one.next_step,
        compared_with=" ".join(one.because),
        probability=one.probability,
        because=one.entries or tuple(f"place/{slot}" for slot in one.places),
        cautions=one.cautions,
        extra={"places": ", ".join(one.places)} if one.places else {},
    )


def _spares(identification: Identification) -> Iterator[Finding]:
    """FT-09: spares in the store that do not fit what is believed to be fitted."""
    for one in identification.follows.spares:
        if one.in_store and not one.fits:
            yield Finding(
                code="FT-09",
                subject=SUBJECT,
                says=f"In the store: {one.title}. It does not fit this engine as it is believed to be.",
                severity="soon",
                next_step=(
                    "Do not take it to the engine; order the part that fits, "
                    "and mark this one with the engine it is for."
                ),
                compared_with=f"It fits with {in_100(one.probability)}.",
                probability=1.0 - one.probability,
                because=(f"place/{one.slot}",) if one.slot else (),
            )


def _papers(identification: Identification) -> Iterator[Finding]:
    """FT-10: papers in the cupboard that are for another build, or older than the index."""
    for one in identification.follows.documents:
        wrong = one.paper == "wrong"
        if wrong or one.paper == "older":
            yield Finding(
                code="FT-10",
                subject=SUBJECT,
                says=f"In the cupboard: {one.id}, {one.title}. "
                + (
                    f"It is for {one.scope}, not for this build."
                    if wrong
                    else f"The index has revision {one.revision}."
                ),
                severity="soon" if wrong else "note",
                next_step="Take it out or mark it, with leave of the site; leave the right document and revision.",
                compared_with=one.says,
                probability=1.0 - one.probability if wrong else None,
            )


def _clashing_papers(identification: Identification) -> Iterator[Finding]:
    """FT-11: two documents for this build that say different things in an older revision."""
    for one in identification.follows.documents:
        if one.contradicts:
            yield Finding(
                code="FT-11",
                subject=SUBJECT,
                says=f"{one.id} contradicts another document. {one.contradicts}",
                severity="note",
                next_step="Read the revision on the paper in your hand before you use its value.",
                compared_with=f"index: revision {one.revision}",
            )


def _open(identification: Identification) -> Iterator[Finding]:
    """FT-12: the build is open and an allowed look would help."""
    top = identification.builds[0]
    allowed = [one for one in identification.next_looks if one.allowed and not one.about]
    if identification.words in ("open", "leaning") and allowed:
        yield Finding(
            code="FT-12",
            subject=SUBJECT,
            says=f"What is fitted is still open: {top.title}, {in_100(top.probability)}.",
            severity="soon",
            next_step=(
                f"{allowed[0].title} ({allowed[0].minutes:g} min): "
                f"it takes away {100 * allowed[0].share_of_doubt:.0f} % of the doubt."
            ),
            probability=1.0 - top.probability,
        )
