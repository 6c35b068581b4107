"""Several targets for one engine in one table, each with its way, its doubt and what follows from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from asfound.upkeep.upgrade import Build, Problem, Some
from asfound.upkeep.upgrade_doubt import Belief, Doubtful, doubtful
from asfound.upkeep.upgrade_file import OTHER, Target, UpgradeFile
from asfound.upkeep.upgrade_follow import Follow, follow
from asfound.upkeep.upgrade_way import NoWay, Way, way

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue
    from asfound.fitout.identification import Identification


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetRow:
    """A target in one line of the table; None where there is no way."""

    id: str
    title: str
    cost: float | None
    low: float | None
    high: float | None
    """Over prices and over what may be fitted."""
    stops: int | None
    minutes: float | None
    outage_minutes: float | None
    changes: int | None
    scrap: int
    store: int
    worth_back: float
    documents_new: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetStudy:
    """One target worked out."""

    id: str
    title: str
    says: str
    way: Way | None
    no_way: NoWay | None
    doubt: Doubtful
    follow: Follow | None
    row: TargetRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """All targets of a file for one engine, the cheapest first, those without a way last."""

    title: str
    money: str
    start: Build
    start_says: tuple[str, ...]
    """What was taken as fitted, place by place, with its chance."""
    targets: tuple[TargetStudy, ...]

    def target(self, name: str) -> TargetStudy | None:
        """Return a target by name."""
        return next((one for one in self.targets if one.id == name), None)

    def as_dict(self) -> dict[str, Any]:
        """Return plain dicts, lists and numbers."""
        return asdict(self)


def study(
    file: UpgradeFile, catalogue: Catalogue, identification: Identification | None = None, *,
    start: Mapping[str, str] | None = None, others: Mapping[str, Mapping[str, str]] | None = None,
) -> Study:  # fmt: skip
    """Return every target of a file for one engine.

    Parameters
    ----------
    file, catalogue
        From `read_upgrade` and `load_catalogue`.
    identification : Identification, optional
        What is believed to be fitted. Without it ``start`` must give every place of the file.
    start : mapping of str to str, optional
        Places known for certain (seen since, or settings read), by name; they go before the belief.
    others : mapping, optional
        Other engines: tag to place to variant; says where a part that comes off is fitted too.
    """
    belief = start_belief(file, identification, start or {})
    fitted = {place: max(values, key=values.__getitem__) for place, values in belief.items()}
    generation, kit = _as_found(file, catalogue, identification, fitted)
    found = []
    for target in file.targets:
        problem = problem_of(file, catalogue, target, fitted)
        told, doubt = way(problem), _with_looks(doubtful(problem, belief), catalogue, identification)
        follows = (
            follow(file, catalogue, target, fitted, told.end, before=(generation, kit), others=others or {})
            if isinstance(told, Way)
            else None
        )
        found.append(
            TargetStudy(
                id=target.id, title=target.title, says=target.says, way=told if isinstance(told, Way) else None,
                no_way=told if isinstance(told, NoWay) else None, doubt=doubt, follow=follows,
                row=_row(target, told, doubt, follows),
            )
        )  # fmt: skip
    found.sort(key=lambda one: (one.way is None, one.way.cost if one.way else 0.0, one.title))
    says = tuple(_start_words(file, belief, place) for place in file.places)
    return Study(title=file.title, money=file.money, start=fitted, start_says=says, targets=tuple(found))


def start_belief(file: UpgradeFile, identification: Identification | None, start: Mapping[str, str]) -> Belief:
    """Return what is believed of every place of the file; UnknownNameError or InputError where a place is unknown."""
    from asfound.errors import InputError, UnknownNameError

    for place, value in start.items():
        if place not in file.places:
            raise UnknownNameError("place", place, file.places)
        if value not in file.places[place]:
            raise UnknownNameError(f"value of {place}", value, file.places[place])
    seen = {} if identification is None else {one.slot: one for one in identification.places}
    found: dict[str, dict[str, float]] = {}
    for place, values in file.places.items():
        if place in start:
            found[place] = {start[place]: 1.0}
        elif place in file.settings_start:
            found[place] = dict(file.settings_start[place])
        elif place in seen and seen[place].variants:
            chances = {one.name if one.name in values else OTHER: one.probability for one in seen[place].variants}
            found[place] = {value: chance for value, chance in chances.items() if chance > 0.0}
        else:
            raise InputError(
                "start", place, "is not known", allowed=", ".join(values),
                try_next="Look at it, or give it as known.",
            )  # fmt: skip
    return found


def problem_of(file: UpgradeFile, catalogue: Catalogue, target: Target, fitted: Build) -> Problem:
    """Return the problem of one target."""
    return Problem(
        places=file.places, start=fitted, target=wanted(file, catalogue, target), changes=file.changes,
        barred=file.barred, stop_cost=file.stop_cost, stop_minutes=file.stop_minutes, titles=file.titles,
    )  # fmt: skip


def wanted(file: UpgradeFile, catalogue: Catalogue, target: Target) -> Some:
    """Return what a target wants: what the generation, with the kit, has in each place, and what the file says."""
    from asfound.fitout.model import native_shares

    found: dict[str, tuple[str, ...]] = {}
    for name in file.slots:
        slot = catalogue.slots[name]
        native = {} if slot.apart else native_shares(slot, target.generation, target.kit)
        if native:
            found[name] = tuple(native)
    return found | dict(target.build)


def _with_looks(doubt: Doubtful, catalogue: Catalogue, identification: Identification | None) -> Doubtful:
    """Return the doubt with how to look at each place: the best look on offer, else the quickest of the catalogue."""
    found = []
    for one in doubt.looks:
        offered = (
            () if identification is None else [each for each in identification.next_looks if each.slot == one.place]
        )
        known = catalogue.slots[one.place].looks if one.place in catalogue.slots else ()
        if offered:
            best = offered[0]
            one = replace(one, look=best.says or best.title, state=best.state_needed, minutes=best.minutes)
        elif known:
            quick = min(known, key=lambda each: each.minutes)
            one = replace(one, look=quick.says, state=quick.state, minutes=quick.minutes)
        found.append(one)
    return replace(doubt, looks=tuple(found))


def _as_found(
    file: UpgradeFile, catalogue: Catalogue, identification: Identification | None, fitted: Build
) -> tuple[str, str]:
    """Return generation and kit as found: the leading build, else the one whose places agree with most of the start."""
    if identification is not None and identification.builds and identification.builds[0].generation:
        return identification.builds[0].generation, identification.builds[0].kit
    from asfound.fitout.model import native_shares

    builds = [(one.id, "") for one in catalogue.generations.values()]
    builds += [(host, one.id) for one in catalogue.kits.values() for host in one.hosts]
    agrees = {
        build: sum(fitted[name] in native_shares(catalogue.slots[name], *build) for name in file.slots)
        for build in builds
    }
    return max(agrees, key=agrees.__getitem__)


def _row(target: Target, told: Way | NoWay, doubt: Doubtful, follows: Follow | None) -> TargetRow:
    if isinstance(told, NoWay) or follows is None:
        return TargetRow(
            id=target.id, title=target.title, cost=None, low=None, high=None, stops=None, minutes=None,
            outage_minutes=None, changes=None, scrap=0, store=0, worth_back=0.0, documents_new=0,
            says=told.says if isinstance(told, NoWay) else "",
        )  # fmt: skip
    deciding = [one.title for one in doubt.looks if one.decides]
    fates = [one.fate for one in follows.leaves]
    return TargetRow(
        id=target.id, title=target.title, cost=told.cost, low=min(told.low, doubt.low or told.low),
        high=max(told.high, doubt.high or told.high), stops=told.number_of_stops, minutes=told.minutes,
        outage_minutes=told.outage_minutes, changes=len(told.steps), scrap=fates.count("scrap"),
        store=fates.count("store") + fates.count("return"), worth_back=sum(one.worth for one in follows.leaves),
        documents_new=len(follows.documents_new),
        says=f"Look first: {', '.join(deciding)}." if deciding else target.says,
    )  # fmt: skip


def _start_words(file: UpgradeFile, belief: Belief, place: str) -> str:
    title = file.titles.get(place, place)
    parts = sorted(belief[place].items(), key=lambda one: -one[1])[:3]
    said = ", ".join(
        f"{file.titles.get(f'{place}.{value}', value)}" + (f" ({100 * chance:.0f} in 100)" if chance < 0.995 else "")
        for value, chance in parts
        if chance >= 0.01
    )
    return f"{title}: {said}"
