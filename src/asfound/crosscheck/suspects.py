"""Explanations of a contradiction in words of the engine: suspects with size, plausibility, known mistake, look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from asfound.crosscheck.assemble import Assembled
from asfound.crosscheck.doubt_from_logs import WEIGHT, LogDoubt
from asfound.crosscheck.explanations import Explanation, Member
from asfound.crosscheck.identify import Identification
from asfound.crosscheck.looks import look_at
from asfound.crosscheck.outcome import Alternative, Suspect
from asfound.crosscheck.patterns import Pattern, turned
from asfound.crosscheck.recognise import recognise


def explanations_of(
    assembled: Assembled, who: Identification, drawn: tuple[Pattern, ...], keys: Mapping[str, tuple[str, ...]],
    doubted: Mapping[str, LogDoubt] | None = None,
) -> tuple[Alternative, ...]:  # fmt: skip
    """Return the explanations that can be, the likeliest first."""
    of_name = {one.name: one for one in drawn}
    rivals = who.rivals if who.explanations else ((who.nearest,) if who.nearest else ())
    made = [_alternative(assembled, one, of_name, keys, doubted or {}) for one in rivals]
    can_be = [one for one in made if all(any(member.possible for member in group) for group in one.groups)]
    kept = can_be or made
    total = sum(one.probability for one in kept)
    told = [replace(one, probability=one.probability / total if total > 0 else 0.0) for one in kept]
    return tuple(sorted(told, key=lambda one: -one.probability))


def _alternative(
    assembled: Assembled, one: Explanation, drawn: Mapping[str, Pattern], keys: Mapping[str, tuple[str, ...]],
    doubted: Mapping[str, LogDoubt],
) -> Alternative:  # fmt: skip
    groups, weight = [], 1.0
    for group in one.suspects:
        told = [_suspect(assembled, member, drawn, keys, doubted.get(member.name)) for member in group]
        total = sum(of.probability for of in told if of.possible)
        before = sum(member.probability for member in group)
        weight *= total / before if before > 0 else 1.0
        rows = [replace(of, probability=of.probability / total if total > 0 and of.possible else 0.0) for of in told]
        groups.append(tuple(sorted(rows, key=lambda of: (not of.possible, -of.probability))))
    return Alternative(
        groups=tuple(groups),
        chi_squared=one.chi_squared,
        degrees=one.degrees,
        p_value=one.p_value,
        probability=one.probability * weight,
    )


def _suspect(
    assembled: Assembled, member: Member, drawn: Mapping[str, Pattern],
    keys: Mapping[str, tuple[str, ...]], doubt: LogDoubt | None,
) -> Suspect:  # fmt: skip
    """Return a member of a group in words, its probability weighed by whether its size is that of a known mistake."""
    if member.name in drawn:
        pattern = drawn[member.name]
        touched = tuple(pattern.mark.effect)
        return Suspect(
            name=member.name, title=pattern.title, kind="pattern", names=touched,
            keys=tuple(key for name in touched for key in keys.get(name, ())), size=member.size, u=member.u,
            unit=pattern.unit, quantity="", value=float("nan"), in_u=member.in_u, probability=member.probability,
            possible=pattern.low - 2 * member.u < member.size < pattern.high + 2 * member.u, mistake=pattern.says,
            look=pattern.look,
        )  # fmt: skip
    about = assembled.values[member.name]
    read = float(assembled.readings.values[assembled.readings.at(member.name)])
    known = recognise(member.name, about.quantity, read, member.size, member.u, assembled.plant, _barometer(assembled))
    assumed = member.name in assembled.assumed
    weight = known.weight if known else 1.0
    if doubt is not None and doubt.fits(member.size, member.u):
        weight *= WEIGHT
    return Suspect(
        name=member.name, title=about.title, kind="assumption" if assumed else "reading", names=(member.name,),
        keys=keys.get(member.name, ()), size=member.size, u=member.u, unit=about.unit, quantity=about.quantity,
        value=read, in_u=member.in_u, probability=member.probability * weight,
        possible=_can_be(assembled, member, read),
        mistake=known.says if known else "", look=look_at(member.name), log=doubt.says if doubt else "",
    )  # fmt: skip


def _can_be(assembled: Assembled, member: Member, read: float) -> bool:
    """Tell whether the true value that this error leaves can be, its doubt taken into account."""
    about = assembled.values[member.name]
    all_ = dict(zip(assembled.readings.names, (float(one) for one in assembled.readings.values), strict=True))
    ends = (read - member.size, read - member.size + 2 * member.u, read - member.size - 2 * member.u)
    return any(about.can_be(end) and not turned(member.name, end, all_) for end in ends)


def _barometer(assembled: Assembled) -> float | None:
    names = assembled.readings.names
    return (
        float(assembled.readings.values[names.index("barometric_pressure")]) if "barometric_pressure" in names else None
    )
