"""Work out a visit's sheet: from readings to results, all with one set of draws.

`work_out` finds for each worksheet the readings and results it takes (`plan`), draws all readings together (`draws`),
runs the formulas on the arrays in the order of their dependence (`program`, `run`), and answers with a `Worked`, which
keeps the draws for whatever is asked next (`worked`).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, cast

from asfound.errors import InputError, UnknownNameError
from asfound.quantities import worksheets as register_of_worksheets
from asfound.quantities.draw_answers import Beyond, Difference, GuardBand, chance_by_count
from asfound.quantities.kept import Generation, Memory, same_reading
from asfound.quantities.order import BAROMETER
from asfound.quantities.plan import Made, Missing, Spot, plan
from asfound.quantities.program import program
from asfound.quantities.run import Kind, Run, assumed_reading
from asfound.quantities.words import LARGEST, STATES, Limit, Reading
from asfound.quantities.worked import Refused, Worked

if TYPE_CHECKING:
    from asfound.quantities.worksheets import Worksheet

__all__ = [
    "BAROMETER",
    "Beyond",
    "Difference",
    "GuardBand",
    "Limit",
    "Memory",
    "Missing",
    "Refused",
    "Worked",
    "assumed_reading",
    "chance_by_count",
    "work_out",
]

NUMBER = 10_000
MOST = 10_000_000
"""More would fill the memory of a laptop and tell nothing new."""
SEED = 1


def work_out(
    readings: Sequence[Reading],
    *,
    number: int = NUMBER,
    seed: int = SEED,
    only: Collection[str] | None = None,
    worksheets: Mapping[str, Worksheet] | None = None,
    quantities: Mapping[str, Kind] | None = None,
    chosen: Mapping[str, str] | None = None,
    faults: list[str] | None = None,
    memory: Memory | None = None,
) -> Worked:
    """Work out everything that follows from the readings of a visit.

    The same readings, number and seed give the same digits, in whatever order the readings come and whatever else is on
    the visit.

    Parameters
    ----------
    readings : sequence of Reading
        The current reading at each key, of both states.
    number : int
        Draws of the visit, 2 to `MOST`.
    seed : int
        Seed of the visit; 0 or more.
    only : collection of str, optional
        Names of the worksheets wanted; what they need is worked out too.
    worksheets : mapping of str to Worksheet, optional
        In the order of preference; all of the program's when left out.
    quantities : mapping, optional
        Register of quantities; the program's when left out.
    faults : list of str, optional
        Gets in words where a formula broke down over these readings: beside a running engine the other numbers are
        wanted all the same. Without the list the error goes on.
    memory : Memory, optional
        What the last working out of this visit left: what has not changed is not worked out again. The digits are the
        same with it and without.
    chosen : mapping of str to str, optional
        Quantity to the worksheet whose answer is taken where several give it, or where it was also read. The others
        are worked out all the same.

    Raises
    ------
    InputError
        A reading is not finite, its uncertainty is negative, two lie at one key, the barometer is a gauge pressure, or
        number or seed cannot be.
    UnknownNameError
        A reading or ``only`` bears a name that no register knows.
    """
    kinds = _quantities() if quantities is None else quantities
    sheets = register_of_worksheets.load() if worksheets is None else worksheets
    if not 2 <= number <= MOST:
        many = "few" if number < 2 else "many"
        raise InputError(
            "number", str(number), f"is too {many} draws", allowed=f"2 to {MOST:,}", try_next="Take 10,000."
        )
    if seed < 0:
        raise InputError("seed", str(seed), "cannot seed the draws", allowed="0 or more")
    for name in (*(only or ()), *(chosen or {}).values()):
        if name not in sheets:
            raise UnknownNameError("worksheet", name, sheets)
    for quantity, name in (chosen or {}).items():
        if quantity not in sheets[name].gives:
            givers = [one.name for one in sheets.values() if quantity in one.gives]
            raise InputError(quantity, name, "does not give it", allowed=", ".join(givers))
    before = Generation() if memory is None else memory.recall(number, seed)
    given = {spot: same_reading(before.readings.get(spot), one) for spot, one in checked(readings, kinds).items()}
    signature = tuple((spot, reading.gauge) for spot, reading in given.items())
    ordered = tuple(sheets.values())
    carrying = frozenset(name for name, kind in kinds.items() if kind.carries)
    wanted = None if only is None else frozenset(only)
    choice = tuple(sorted((chosen or {}).items()))
    run = Run(given, kinds, number, seed, faults, before)
    without: frozenset[Made] = frozenset()
    while True:
        planned = plan(signature, ordered, carrying, without, wanted, choice)
        run.execute(program(planned))
        if run.no_answer <= without:
            break
        without |= run.no_answer
    if memory is not None:
        memory.keep(run.kept, number, seed)
    return Worked(
        readings=tuple(given.values()),
        results=tuple(run.results),
        missing=planned.missing,
        refused=tuple(run.refused),
        rank={sheet.name: at for at, sheet in enumerate(ordered)},
        chosen=dict(choice),
        number=number,
        seed=seed,
        followed=run.kept.followed,
    )


def checked(readings: Iterable[Reading], quantities: Mapping[str, Kind]) -> dict[Spot, Reading]:
    """Return readings by where they lie, in the order of their keys, or refuse what cannot be a reading."""
    found: dict[Spot, Reading] = {}
    for one in readings:
        spot = Spot(one.state, one.place, one.quantity)
        if spot in found:
            raise InputError(
                one.key, one.as_typed, f"lies where '{found[spot].as_typed}' lies already", allowed="one reading a key",
                try_next="Correct the first reading, or say at which place the second was taken.",
            )  # fmt: skip
        if one.quantity not in quantities:
            raise UnknownNameError("quantity", one.quantity, quantities)
        if not math.isfinite(one.value):
            raise InputError(
                one.key, one.as_typed, "is no number", allowed="a finite number", try_next="Read it again."
            )
        if max(abs(one.value), one.standard_uncertainty) > LARGEST:
            raise InputError(
                one.key, one.as_typed, "is beyond any number that can be", try_next="Look at its power of ten."
            )
        if not (math.isfinite(one.standard_uncertainty) and one.standard_uncertainty >= 0.0):
            raise InputError(
                one.key, f"{one.standard_uncertainty:g}", "is no standard uncertainty", allowed="0 or more",
                try_next="Check the specification of its instrument.",
            )  # fmt: skip
        if not 0.0 <= one.shared_fraction <= 1.0:
            raise InputError(one.key, f"{one.shared_fraction:g}", "is no correlation", allowed="0 to 1")
        if one.state not in STATES:
            raise InputError(one.key, one.state, "is no state of a visit", allowed=" or ".join(STATES))
        if one.gauge and one.quantity == BAROMETER:
            raise InputError(
                one.key, one.as_typed, "is a gauge pressure; a barometer is none", allowed="an absolute pressure",
                try_next="Read the barometer in absolute pressure, not reduced to sea level.",
            )  # fmt: skip
        found[spot] = one
    return dict(sorted(found.items()))


def _quantities() -> Mapping[str, Kind]:
    """Return the program's register of quantities."""
    from asfound.quantities.register import quantities

    return cast("Mapping[str, Kind]", quantities())
