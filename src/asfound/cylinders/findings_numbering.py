"""Findings of numbering and firing order: two ways of counting on one site, names and orders that cannot be."""

from __future__ import annotations

import math
from collections.abc import Iterator

from asfound.cylinders.engine_numbering import (
    Numbered,
    both_numbers,
    engine_convention,
    layout_of,
    operator_convention,
    place_positions,
)
from asfound.cylinders.firing_check import check_order
from asfound.cylinders.firing_order import even_bank_angles, firing_intervals, parse_order
from asfound.errors import InputError
from asfound.quantities.findings import Case
from asfound.quantities.plan import in_number_order
from asfound.quantities.words import STATES, Finding

STEP = "cylinders"
ENDS = {"driving_end": "flywheel", "free_end": "free end"}
FIRING_ORDER = "firing_order"
"""Key of the engine's entry with the order of its document, else under its plate as it is written there."""


def find(case: Case) -> Iterator[Finding]:
    """Yield what is to be said of the names of the cylinders and of the order in which they fire."""
    yield from _two_numberings(case)
    yield from _not_of_this_engine(case)
    yield from _order(case)
    yield from _uneven(case)


def with_site_number(numbered: Numbered) -> str:
    """Return a cylinder with both numbers where they differ: ``9 (the site's 1)``."""
    if numbered.builder == numbered.operator:
        return numbered.builder
    return f"{numbered.builder} (the site's {numbered.operator})"


def _two_numberings(case: Case) -> Iterator[Finding]:
    own, site = engine_convention(case.engine), operator_convention(case.engine)
    cylinders = both_numbers(case.engine)
    if site is None or not cylinders:
        return
    first = next(one for one in cylinders if one.operator in ("1", "L1", "A1"))
    same = [one.builder for one in cylinders if one.builder == one.operator]
    middle = f"; only {', '.join(same)} is the same in both" if same else ""
    yield Finding(
        code="CY-01",
        subject=STEP,
        says=(
            f"The site counts its cylinders from the {ENDS[site.first_at]}, the builder from the "
            f"{ENDS[own.first_at]}: the operator's {first.operator} is the builder's {first.builder}{middle}"
        ),
        severity="clash",
        next_step=(
            f"Paint the builder's number on each cylinder, with an arrow to the {ENDS[own.first_at]} where it begins. "
            "Until then name both numbers in every order, message and spare part. Look whether the entries of the "
            "display, the plug leads and older records count the one way or the other."
            + (" Ask from where left is left as well." if cylinders[0].position.row != "only" else "")
        ),
        compared_with=own.seen,
        cautions=("local",),
        extra={one.builder: one.operator for one in sorted(cylinders, key=lambda one: in_number_order(one.place))},
    )


def _not_of_this_engine(case: Case) -> Iterator[Finding]:
    known = place_positions(case.engine)
    layout = layout_of(case.engine)
    if layout is None:
        return
    for state in STATES:
        strange = sorted(
            {
                one.place
                for one in case.worked.readings
                if one.state == state and one.place.startswith("cylinder_") and one.place not in known
            },
            key=in_number_order,
        )
        if strange:
            names = ", ".join(one.removeprefix("cylinder_") for one in strange)
            has = f"{layout.cylinders} cylinders {'in line' if layout.form == 'inline' else 'in two rows'}"
            yield Finding(
                code="CY-06",
                subject=STEP,
                says=f"Readings stand at {names}, which this engine has not: it has {has}",
                severity="clash",
                next_step="Put the readings where they were taken, or put the layout of the engine right.",
                because=tuple(one.key for one in case.worked.readings if one.state == state and one.place in strange),
                state=state,
            )


def _order(case: Case) -> Iterator[Finding]:
    layout = layout_of(case.engine)
    text = str(case.engine.get(FIRING_ORDER) or (case.engine.get("plate") or {}).get(FIRING_ORDER) or "")
    if layout is None or not text.strip():
        return
    try:
        order = parse_order(text)
    except InputError:
        order = ()
    found = check_order(layout, engine_convention(case.engine), order, bank_angle=_bank_angle(case))
    if found.faults:
        yield Finding(
            code="CY-07",
            subject=STEP,
            says=f"The firing order {text} cannot be that of this engine: {'; '.join(found.faults)}",
            severity="clash",
            next_step="Read the order off the plate or out of the engine's own manual again. Move no plug lead by it.",
            compared_with="each cylinder once, 720 degrees in all, partners on one crankpin equally far apart",
            cautions=("hv", "local"),
        )


def _uneven(case: Case) -> Iterator[Finding]:
    layout, angle = layout_of(case.engine), _bank_angle(case)
    if layout is None or layout.form != "vee" or angle is None:
        return
    intervals = firing_intervals(layout.cylinders, angle)
    turned = firing_intervals(layout.cylinders, angle, partner_a_turn_later=True)
    if len(intervals) == 1 or len(turned) == 1:
        return
    even = " or ".join(f"{math.degrees(one):.3g}" for one in even_bank_angles(layout.cylinders))
    steps = " and ".join(f"{math.degrees(one):.3g}" for one in intervals)
    yield Finding(
        code="CY-08",
        subject=STEP,
        says=(
            f"With {math.degrees(angle):.3g} degrees between the rows this engine does not fire evenly: intervals of "
            f"{steps} degrees in turn (even at {even})"
        ),
        severity="note",
        next_step="Read the angle on the engine. If it is so, crank speed and sound are uneven on a sound engine too.",
        compared_with="two cylinders on each crankpin, each row firing evenly",
    )


def _bank_angle(case: Case) -> float | None:
    given = (case.engine.get("layout") or {}).get("angle")
    return math.radians(float(given)) if given else None
