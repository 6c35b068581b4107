"""`asfound trouble`: closed cases, fault codes that were read, a company's own files, the names that can be told."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from asfound.cli.answer import answer, columns
from asfound.cli.find import kept, opened, tail, view_of, writer
from asfound.cli.options import Hand, Home
from asfound.cli.trouble import trouble
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

STDIN = "-"


@trouble.command
def cases(*, count: Literal["on", "off", ""] = "", home: Home = Home()) -> None:
    """List the closed cases of this home: they move the chances of the next one.

    asfound trouble cases --count off      they move nothing from now on; the cases stay

    Parameters
    ----------
    count
        Switch their counting on or off.
    """
    from asfound.records.trouble import closed_cases
    from asfound.records.trouble_files import knowledge_of
    from asfound.records.trouble_say import set_count_closed
    from asfound.troubleshoot.rows import titles

    records = opened(home)
    if count:
        set_count_closed(records, count == "on")
    counted = records.settings.count_closed
    found, words = closed_cases(records), titles(knowledge_of(records))
    rows = [
        (one.date, one.visit, words.get(one.cause, one.cause), one.confirmed, "yes" if one.counts and counted else "no",
         tail(one.entry))
        for one in found
    ]  # fmt: skip
    data = {"counted": counted, "cases": [{**asdict(one), "counts": one.counts} for one in found]}

    def told() -> Iterator[str]:
        yield from columns(rows, ("date", "visit", "cause", "how known", "counts", "entry")) if rows else ["None."]
        if not counted:
            yield "Closed cases are switched off: they move no chances."

    answer(home, data, told)


@trouble.command
def codes(file: str, visit: str = "", /, *, source: str = "", note: str = "", hand: Hand = Hand()) -> None:
    """Read fault codes from a bus log or pasted frames (SAE J1939 DM1, DM2); with a visit, keep them there.

    asfound trouble codes bus.log

    candump can0 | asfound trouble codes - A2

    Parameters
    ----------
    file
        Log as candump writes it, or - for standard input; .asc, .blf, .csv, .trc where python-can is installed.
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    source
        Where they were read.
    note
        In words.
    """
    from asfound.cli.trouble_told import codes_data, codes_told
    from asfound.records.trouble_codes import read_fault_codes
    from asfound.records.trouble_files import own_code_names
    from asfound.troubleshoot.bus_log import frames_of_file
    from asfound.troubleshoot.fault_codes import decode

    content, filename = _given(file)
    if not visit:
        messages = decode(frames_of_file(content, filename))
        answer(hand, codes_data(messages, {}), lambda: codes_told(messages, {}))
        return
    records = opened(hand)
    wrong: list[str] = []
    names = own_code_names(records, wrong)
    given: str | bytes = content if filename else frames_of_file(content)
    entry, messages = read_fault_codes(
        records, view_of(records, visit), given, filename=filename, source=source, note=note,
        who=writer(hand, records),
    )  # fmt: skip
    data = kept(entry) | {"codes": codes_data(messages, names), "problems": wrong}
    answer(hand, data, lambda: [*codes_told(messages, names), *wrong, f"Kept {tail(entry.id)}"])


@trouble.command
def check(file: str = "", /, *, home: Home = Home()) -> None:
    """Check a file of knowledge (.yaml) or names of fault codes (.csv); without a file, those of this home.

    asfound trouble check                       troubleshooting.yaml and fault_codes.csv of the home

    asfound trouble check draft.yaml            read after the packaged knowledge, as it would be in the home

    Parameters
    ----------
    file
        The file; a slip is refused with its line and column.
    """
    from asfound.records.home import Home as Folder
    from asfound.troubleshoot.fault_names import OWN_CODES
    from asfound.troubleshoot.generic import OWN_FILE

    folder = Folder(home.home or None).folder if "://" not in home.home else Folder(None).folder
    paths = [Path(file)] if file else [one for one in (folder / OWN_FILE, folder / OWN_CODES) if one.exists()]
    found = {str(one): _checked(one) for one in paths}

    def told() -> Iterator[str]:
        for name, counts in found.items():
            yield f"{name}: {', '.join(f'{number} {what}' for what, number in counts.items() if number) or 'nothing'}"
        if not found:
            yield f"No file of this kind in {folder}."

    answer(home, found, told)


def _checked(path: Path) -> dict[str, int]:
    """Return how many items a file brings; refuse its first slip."""
    from asfound.troubleshoot.fault_names import read_names
    from asfound.troubleshoot.generic import generic, with_own

    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as fault:
        raise InputError("file", str(path), f"cannot be read: {fault}") from None
    if path.suffix.lower() == ".csv":
        return {"names of fault codes": len(read_names(text, file=str(path)))}
    whole, base = with_own(((str(path), text),)), generic()
    counts = {}
    for part in ("symptoms", "causes", "tests", "repairs"):
        before = getattr(base, part)
        counts[part] = sum(before.get(name) != one for name, one in getattr(whole, part).items())
    return counts


@trouble.command
def names(what: Literal["symptoms", "steps", "causes", "protections", "hazards"], /, *, home: Home = Home()) -> None:
    """List the names that can be told: symptoms, steps (tests and repairs), causes, protections, hazards.

    Parameters
    ----------
    what
        Which names.
    """
    rows = _names(home, what)
    answer(home, [{"name": name, "title": title} for name, title in rows], lambda: columns(rows, ("name", "title")))


def _names(home: Home, what: str) -> list[tuple[str, str]]:
    from asfound.records.home import Home as Folder
    from asfound.records.trouble_files import knowledge_of
    from asfound.sources.cautions import cautions
    from asfound.troubleshoot.generic import generic
    from asfound.troubleshoot.protections import protections

    if what == "protections":
        return [(name, one.title) for name, one in protections().items()]
    if what == "hazards":
        return [(one.tag, one.hazard) for one in cautions().values()]
    there = "://" in home.home or Folder(home.home or None).exists
    known = knowledge_of(opened(home)) if there else generic()
    if what == "symptoms":
        return [(name, one.title) for name, one in known.symptoms.items()]
    if what == "causes":
        return [(name, one.title) for name, one in known.causes.items()]
    return [(name, one.title) for name, one in {**known.tests, **known.repairs}.items()]


def _given(file: str) -> tuple[bytes, str]:
    """Return what stands in a file, or what comes in on standard input."""
    import sys

    if file == STDIN:
        return sys.stdin.buffer.read(), ""
    try:
        return Path(file).read_bytes(), Path(file).name
    except OSError as fault:
        raise InputError("file", file, f"cannot be read: {fault.strerror}") from None
