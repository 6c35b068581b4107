"""All engines, one reading each: which, how it stands to its own usual, and in what order a hand is wanted.

A look at a log is large; of each one a small card is kept beside it, so that a page of hundreds of engines reads cards.
"""

from __future__ import annotations

import contextlib
import json
import math
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from asfound.history.look_words import amount, span_said
from asfound.report.content_history_channels import channel_of, own_scale, watched_row
from asfound.report.content_history_tables import SIGNS
from asfound.report.history_logs import zone_of
from asfound.report.history_row import Columns
from asfound.report.time_axis import day_said
from asfound.report.wording import System

if TYPE_CHECKING:
    from asfound.history.look_parts import EngineLook, Indicator
    from asfound.history.store import Store
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord

CARDS = ".cards"
VERSION = 4
POINTS = 180
"""Points of a small picture; of more the median of neighbours is kept."""
DAY = 86_400_000_000
JUDGED = "engineering judgement"
"""Where a limit comes from that nobody gave; too long for a small picture."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """What the fleet page needs of one engine, SI."""

    look: str
    """Name of the look's file: another look, another card."""
    version: int = VERSION
    score: float = 0.0
    says: str = ""
    """In SI; ``says_us`` in US customary units."""
    says_us: str = ""
    sign: str = "note"
    key: str = ""
    channel: str = ""
    own: bool = False
    scale: str = "absolute"
    over: str = ""
    title: str = ""
    quantity: str = ""
    place: str = ""
    time: tuple[int, ...] = ()
    value: tuple[float, ...] = ()
    now: float | None = None
    limit: float | None = None
    above: bool = True
    limit_text: str = ""
    usual: tuple[float, float] | None = None
    start: int = 0
    end: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One engine of the fleet as it is drawn."""

    engine: EngineRecord
    card: Card | None
    state: str
    """``card``, ``log`` (what changed is not worked out yet) or ``none``."""
    says: str = ""
    title: str = ""
    unit: str = ""
    value: str = ""
    picture: dict[str, Any] | None = None

    @property
    def score(self) -> float:
        """What it is ranked by."""
        return self.card.score if self.card else 0.0


def fleet_cards(records: Records) -> list[tuple[EngineRecord, Card | None, str]]:
    """Return every engine with its card, those that want a hand first, those without a log last."""
    from asfound.records.logs_of_engine import has_logs, logs, stored_as

    engines = records.engines()
    if not has_logs(records):
        return [(one, None, "none") for one in engines]
    store = logs(records)
    found: list[tuple[EngineRecord, Card | None, str]] = []
    for one in engines:
        name = stored_as(records, one)
        card = card_of(store, name) if name else None
        found.append((one, card, "card" if card else "log" if name else "none"))
    order = {"card": 0, "log": 1, "none": 2}
    return sorted(found, key=lambda row: (order[row[2]], -(row[1].score if row[1] else 0.0), row[0].tag))


def card_of(store: Store, engine: str) -> Card | None:
    """Return the card of the newest look at an engine; made and kept where there is none yet."""
    from asfound.history.look_disk import VERSION as LOOK_VERSION
    from asfound.history.look_disk import days_kept, kept
    from asfound.history.manifest import engine_path
    from asfound.history.whole_files import write_whole

    version = VERSION * 1000 + LOOK_VERSION
    names = days_kept(store, engine)
    if not names:
        return None
    newest = names[-1][1]
    where = Path(store.where) / CARDS / f"{engine_path(engine)}.json" if "://" not in store.where else None
    if where is not None and where.is_file():
        try:
            given = json.loads(where.read_bytes())
            if given.get("look") == newest and given.get("version") == version:
                if given.get("unreadable"):
                    return None
                usual = given.get("usual")
                given |= {"time": tuple(given["time"]), "value": tuple(given["value"])}
                return Card(**(given | {"usual": tuple(usual) if usual else None}))
        except (OSError, ValueError, TypeError, KeyError):
            pass
    look = kept(store, engine)
    card = replace(made(look, newest), version=version) if look is not None else None
    data = asdict(card) if card is not None else {"look": newest, "version": version, "unreadable": True}
    if where is not None:
        with contextlib.suppress(OSError):  # a card that cannot be kept is made again
            write_whole(where, json.dumps(data).encode())
    return card


def made(look: EngineLook, name: str) -> Card:
    """Return the card of a look."""
    from asfound.history.attention import attention

    wants = attention(look)
    one = look.worst or _usual_one(look)
    if one is None:
        return Card(look=name, score=wants.score, end=look.end)
    time, value = _thinned(one)
    known = [v for v in value if math.isfinite(v)]
    return Card(
        look=name,
        score=wants.score,
        says=_said(one, look, "si"),
        says_us=_said(one, look, "us"),
        sign=SIGNS.get(one.judged, "note"),
        key=one.key,
        channel=one.channel,
        own=own_scale(one, look),
        scale=one.scale,
        over=one.over,
        title=one.title,
        quantity=one.quantity,
        place=one.place,
        time=time,
        value=value,
        now=known[-1] if known else None,
        limit=one.limit,
        above=one.above,
        limit_text=_limit_words(one),
        usual=_usual(one),
        start=look.start,
        end=look.end,
    )


def _said(one: Indicator, look: EngineLook, system: System) -> str:
    """Say in a few words why this reading is shown."""
    if one.judged == "beyond":
        return "Beyond its limit"
    reach = one.reach
    if reach is not None and one.judged == "near" and reach.time:
        span = f" ({span_said(reach.earliest, reach.latest)})" if reach.earliest and reach.latest else ""
        return f"At its limit on {day_said(reach.time)}{span}"
    drifts = one.kind in ("drift", "both") and one.moved.known and abs(one.moved.value) >= one.matters
    if one.judged == "moves" and not drifts and one.steps:
        return f"Stepped by {amount(one, one.steps[-1].size.value, system)} on {day_said(one.steps[-1].time)}"
    if one.judged == "moves" and one.moved.known:
        much = amount(one, one.moved.value, system)
        began = one.began.time if one.began is not None else one.moved_from
        before = "" if one.began is not None else " or before"
        return f"{much} since {day_said(began)}{before}" if began else f"{much} over the log"
    faults = sum(fault.open for fault in look.faults)
    return f"Usual; {faults} sensor{'s' if faults != 1 else ''} in doubt" if faults else "Usual"


def _limit_words(one: Indicator) -> str:
    said = one.limit_from.partition(",")[0].strip()
    return said if said and said != JUDGED and not any(sign.isdigit() for sign in said) else "limit"


def _usual_one(look: EngineLook) -> Indicator | None:
    """Return the reading to show of an engine on which nothing moves: nearest to its limit, else the first."""
    there = [one for one in look.indicators if one.daily]
    return next((one for one in there if one.limit is not None), there[0] if there else None)


def _usual(one: Indicator) -> tuple[float, float] | None:
    """Return where the values of this engine lay before it began to move: 90 of 100 of them."""
    at, values = np.asarray(one.daily_time, np.int64), np.asarray(one.daily, float)
    known = np.isfinite(values)
    before = known
    if one.judged != "still":
        first = known & (np.cumsum(known) <= max(known.sum() // 3, 20))
        began = one.began.time if one.began is not None else 0
        before = first & (at < began) if (first & (at < began)).sum() >= 20 else first
    if not before.any():
        return None
    low, high = np.percentile(values[before], (5, 95))
    return float(low), float(high)


def _thinned(one: Indicator) -> tuple[tuple[int, ...], tuple[float, ...]]:
    at, values = np.asarray(one.daily_time, np.int64), np.asarray(one.daily, float)
    fold = -(-len(at) // POINTS)
    if fold > 1:
        whole = len(at) // fold * fold
        at = at[:whole:fold]
        values = np.median(values[:whole].reshape(-1, fold), axis=1)
    return tuple(at.tolist()), tuple(float(f"{one:.6g}") for one in values.tolist())


def shown(engine: EngineRecord, card: Card | None, state: str, system: System) -> Shown:
    """Return one engine as it is drawn, in the units of its reader."""
    if card is None or not card.title or not card.time:
        return Shown(engine=engine, card=card, state=state if card is None else "log")
    channel = channel_of(card.channel, system)
    if card.own:
        from asfound.history.look_parts import Indicator

        like = Indicator(
            key=card.key, title=card.title, channel=card.channel, quantity=card.quantity, place=card.place, group="",
            wanted="still", share=False, matters=0.0, sees="", scale=card.scale, over=card.over,
        )  # fmt: skip
        channel = watched_row(like, system)
    values = channel.shown(np.asarray(card.value), system)
    time = np.asarray(card.time, np.int64)
    step = int(np.median(np.diff(time))) if len(time) > 1 else DAY
    broken = np.append(False, np.diff(time) > 4 * max(step, DAY))
    columns = Columns(time=time, step=step, low=values, high=values, mean=values, broken=broken)

    def one(value: float) -> float:
        return float(channel.shown(np.array([value]), system)[0])

    now = channel.value(card.now, system) if card.now is not None else ""
    wall = None
    if card.limit is not None:
        wall = (one(card.limit), f"{card.limit_text} {channel.value(card.limit, system)}", card.above)
        if abs(card.limit - (card.now or 0.0)) > 12 * (
            abs((card.usual or (0, 0))[1] - (card.usual or (0, 0))[0]) or 1e30
        ):
            wall = None
    usual = (one(card.usual[0]), one(card.usual[1])) if card.usual else None
    said = f"{engine.tag}, {card.title}: now {now} {channel.unit}"
    return Shown(
        engine=engine, card=card, state=state, title=card.title, unit=channel.unit, value=now,
        says=card.says_us if system == "us" else card.says,
        picture={
            "columns": columns, "label": said, "value": now,
            "start": card.start, "end": max(card.end, card.start + DAY),
            "usual": (min(usual), max(usual)) if usual else None, "wall": wall, "zone": zone_of(engine),
        },
    )  # fmt: skip
