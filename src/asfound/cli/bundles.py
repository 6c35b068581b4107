"""`asfound bundle-out`, `bundle-in`, `settle`: what goes to another laptop, what comes back, what then clashes."""

from __future__ import annotations

import hashlib
import tempfile
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from asfound.cli.answer import answer, coloured, columns, working
from asfound.cli.find import entry_of, kept, opened, tail, visit_of, writer
from asfound.cli.handover import free
from asfound.cli.locks import passphrase
from asfound.cli.options import Hand, Home
from asfound.errors import InputError
from asfound.history.disk import flush, put_in_place
from asfound.records.lock import passing_in

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from asfound.records.conflicts import Clash, Side
    from asfound.records.store import Records


def bundle_out(
    file: Path,
    /,
    *names: str,
    replace: bool = False,
    lock: bool = False,
    passphrase_file: str = "",
    where: Home = Home(),
) -> None:
    """Write a bundle: one file with entries, photos and seals, for another laptop or the office.

    The same entries give the same bytes, whichever laptop writes them.

    Parameters
    ----------
    file
        File to write, for example A2.zip
    names
        What goes into it: tags of engines, names of sites, visits as tag/date. Without a name the whole home.
    replace
        Write over a file that is there.
    lock
        Close it with a passphrase, which is asked for; needs the extra 'lock'.
    passphrase_file
        File whose first line is that passphrase.
    """
    from asfound.records.bundle import write_bundle
    from asfound.records.bundle_locked import lock_bundle

    records = opened(where)
    free(file, replace)
    closed = passphrase("Passphrase of the bundle", passphrase_file, twice=True) if lock or passphrase_file else ""
    half = file.with_name(f".{file.name}.half")
    try:
        with working("Writing the bundle"), open(half, "w+b") as out:
            if closed:
                with tempfile.TemporaryFile(dir=passing_in(records.home.folder)) as plain:
                    made = write_bundle(records, plain, names)
                    lock_bundle(plain, out, closed)
            else:
                made = write_bundle(records, out, names)
            out.flush()
            flush(out.fileno())
            out.seek(0)
            digest = hashlib.file_digest(out, "sha256").hexdigest()
        put_in_place(half, file)
    except OSError as fault:
        raise InputError("file", str(file), f"cannot be written ({fault.strerror})") from fault
    finally:
        half.unlink(missing_ok=True)
    data = {
        "file": str(file), "bytes": file.stat().st_size, "sha256": digest, "entries": made.entries,
        "files": made.files, "missing": made.missing, "seals": made.seals, "names": made.names, "locked": bool(closed),
    }  # fmt: skip

    def told() -> Iterator[str]:
        what = ", ".join(made.names) or "the whole home"
        yield f"Written{' and locked' if closed else ''}: {file}, {data['bytes']:,} bytes: {what}"
        yield f"{made.entries} entries, {made.files} files, {made.seals} seals; digest {digest}"
        if made.missing:
            yield coloured(f"{len(made.missing)} files that entries name are not in this home", "visit")

    answer(where, data, told)


def bundle_in(file: Path, /, *, passphrase_file: str = "", hand: Hand = Hand()) -> None:
    """Take in a bundle. Nothing here is lost: the record is the union of both, and what clashes is shown.

    Everything in it is checked first, digests and seals too; a bundle that does not hold changes nothing.

    Parameters
    ----------
    file
        As `asfound bundle-out` writes it.
    passphrase_file
        Of a locked bundle: file whose first line is the passphrase; without it, it is asked for.
    """
    from asfound.records.bundle_in import take_in
    from asfound.records.bundle_locked import is_locked, open_bundle
    from asfound.records.conflicts import clashes

    records = opened(hand, begin=True)
    try:
        with open(file, "rb") as content, tempfile.TemporaryFile(dir=passing_in(records.home.folder)) as opened_one:
            given: IO[bytes] = content
            if is_locked(content):
                open_bundle(content, opened_one, passphrase("Passphrase of the bundle", passphrase_file))
                given = opened_one
            with working("Checking the bundle"):
                came = take_in(records, given)
    except OSError as fault:
        raise InputError("file", str(file), f"cannot be read ({fault.strerror})") from fault
    waiting = clashes(records)
    tags = {one.id: one.tag for one in records.engines()}
    engines = [tags.get(one, one) for one in came.engines]
    data = {
        "new": came.new, "known": came.known, "files": came.files, "missing": came.missing, "engines": engines,
        "seals": came.seals, "unknown_kinds": came.unknown_kinds, "to_settle": len(waiting),
    }  # fmt: skip

    def told() -> Iterator[str]:
        about = f" about {', '.join(engines)}" if engines else ""
        yield f"{came.new} new entries{about}, {came.known} known; {came.files} files; {came.seals} seals hold"
        if came.missing:
            yield coloured(f"{len(came.missing)} files did not come with it", "visit")
        if came.unknown_kinds:
            yield f"Kinds that a newer program wrote, kept as they are: {', '.join(came.unknown_kinds)}"
        if waiting:
            yield coloured(f"{len(waiting)} to settle: asfound settle", "clash")

    answer(hand, data, told)


def settle(visit: str = "", about: str = "", /, *choose: str, why: str = "", hand: Hand = Hand()) -> None:
    """Settle what two laptops wrote apart; without an entry, list it with both sides.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier; without it, everything in this home.
        A dash (-) for what belongs to no visit.
    about
        The entry that the list names.
    choose
        What stands: one of the entries, or several to keep both as two readings.
    why
        Why.
    """
    from asfound.records import conflicts

    records = opened(hand)
    found = None if visit in ("", "-") else visit_of(records, visit).id
    waiting = conflicts.clashes(records, found)
    if not about:
        data = [_data(one) for one in waiting]
        answer(hand, data, lambda: _told(waiting, records))
        return
    named = [one.about.id for one in waiting if one.about.id.startswith(about) or one.about.id.endswith(about)]
    identifier = named[0] if len(named) == 1 else entry_of(records, about).id
    chosen = [entry_of(records, one).id for one in choose]
    lines = conflicts.settle(records, identifier, chosen, why=why, who=writer(hand, records))
    answer(hand, kept(lines[-1]), lambda: [f"Settled: {len(chosen)} stand"])


def _data(one: Clash) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "about": kept(one.about),
        "engine": one.engine,
        "visit": one.visit,
        "sealed": one.sealed,
        "chance": one.chance,
        "between": [kept(side.entry) | {"device": side.entry.device, "stands": side.stands} for side in one.sides],
    }


TITLES = {
    "corrections": "was put right {n} times, apart from each other",
    "readings": "was read {n} times on different laptops, with different outcomes",
    "sealed_twice": "the visit was closed {n} times, apart from each other",
    "after_seal": "the visit was sealed while another laptop went on: {n} entries came in after it",
}


def _told(waiting: Sequence[Clash], records: Records) -> Iterator[str]:
    names = {one.id: one.name for one in records.visits()}
    for one in waiting:
        where = f"{names.get(one.visit, one.visit)}: " if one.visit else ""
        says = TITLES[one.kind].format(n=len(one.sides))
        yield coloured(f"{where}{one.about.kind} {tail(one.about.id)} {says}", "clash")
        yield from columns([_row(side) for side in one.sides])
        if one.chance is not None:
            yield f"  by their doubts alone they would differ so much {100 * one.chance:.2g} times in 100"
    if not waiting:
        yield "Nothing to settle."


def _row(side: Side) -> tuple[str, ...]:
    content = side.entry.content
    said = str(content.get("as_typed") or content.get("text") or content.get("says") or dict(content))
    taken = f"{side.reading.said_by}, {side.reading.place}" if side.reading else side.entry.kind
    who = side.entry.who
    return f"  {tail(side.entry.id)}", who, side.entry.at[:16], f"device {side.entry.device[:6]}", taken, said
