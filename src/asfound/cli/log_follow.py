"""`asfound log-follow`: a log that grows, or registers on the site's network, taken in as they come. Read-only."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.cli.answer import answer
from asfound.cli.find import opened, writer
from asfound.cli.log_import import Told, read_mapping
from asfound.cli.options import Hand
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator


def log_follow(
    engine: str, file: Path | None = None, /, *, registers: Path | None = None, told: Told = Told(),
    period: float = 10.0, looks: int = 0, hand: Hand = Hand(),
) -> None:  # fmt: skip
    """Follow a log that grows, or read registers by Modbus/TCP, into the engine's log, until interrupted.

    Only reads. Reading loads a panel's processor: ask the owner of the control system first, and no more often than
    needed. It is no safety function and stands between no protection and what it protects.

    asfound log-follow A2 scanner.csv --mapping scanner.yaml --zone=-06:00

    asfound log-follow A2 --registers panel-map.yaml

    Parameters
    ----------
    engine
        Tag of the engine.
    file
        A log of text that grows.
    registers
        Map of the device and of the registers that may be read.
    period
        Seconds between two looks at the file; registers go by their map.
    looks
        Stop after so many looks; 0 goes on until interrupted.
    """
    from asfound.records.log_import import LiveImport
    from asfound.records.log_plan import usual_barometer

    if (file is None) == (registers is None):
        raise InputError("file", str(file or ""), "is wanted, or --registers; one of the two")
    if period <= 0:
        raise InputError("period", str(period), "is no time", allowed="above 0 s")
    records = opened(hand)
    found = records.engine(engine)
    source = (file or registers or Path("live")).stem
    live = LiveImport(records, found, source, who=writer(hand, records))
    if file is not None:
        steps = _file(file, usual_barometer(found), live, told, period, looks)
    else:
        steps = _registers(registers, live, looks)
    rows = 0
    try:
        for count, notes in steps:
            rows += count
            if not hand.json:
                for note in notes:
                    print(note, flush=True)
                if count:
                    print(f"{found.tag}: {count:,} rows, {rows:,} in all", flush=True)
    except KeyboardInterrupt:
        pass
    finally:
        entry = live.close()
    data = {"engine": found.tag, "rows": rows, "entry": entry.id if entry else None, "source": live.source}
    answer(hand, data, lambda: [f"{found.tag}: {rows:,} rows taken in as '{live.source}'"])


def _file(
    file: Path, barometer: float, live: Any, told: Told, period: float, looks: int
) -> Iterator[tuple[int, list[str]]]:
    from asfound.history.live_tail import Tail
    from asfound.records.log_plan import plan

    given, answers = read_mapping(told.mapping) if told.mapping is not None else (None, {})
    planned = plan(
        [file], live.source, zone=told.zone or answers.get("zone", ""), order=told.order or answers.get("order", ""),
        given=given, units_by_values=told.yes, barometer=barometer,
    )  # fmt: skip
    tail = Tail(file, live.sink, planned.files[0].form, planned.mapping)
    for report in tail.follow(period, looks=looks or None):
        yield live.took(report.kept, report.first, report.last), list(report.notes)


def _registers(path: Path | None, live: Any, looks: int) -> Iterator[tuple[int, list[str]]]:
    from asfound.history.live_registers import RegisterReader
    from asfound.history.register_map import load_map

    assert path is not None
    if not path.is_file():
        raise InputError("registers", str(path), "is no file", try_next="Give the map of registers.")
    with RegisterReader(load_map(path)) as reader:
        for look in reader.follow(looks=looks or None):
            block = look.channels(live.source)
            if len(block) and any(one == one for column in block.values.values() for one in column):
                live.sink.add(block)
                live.sink.commit()
                yield live.took(len(block), int(block.time[0]), int(block.time[-1])), list(look.notes)
            else:
                yield 0, list(look.notes)
