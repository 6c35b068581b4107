"""`asfound people`, `asfound office`: several people on one record, each with a name, a role and a password."""

from __future__ import annotations

import getpass
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from cyclopts import App

from asfound.cli.answer import answer, columns
from asfound.cli.find import opened
from asfound.cli.options import Home
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.records.people import People

RoleName = Literal["reader", "writer", "keeper"]
people = App(name="people", help="Say who of an office may read, write, seal; list what was done at the door.")


@people.default
def listed(*, where: Home = Home()) -> None:
    """List the people of a record, with role and since when; those barred too."""
    found = _people(where).listed()

    def told() -> Iterator[str]:
        rows = [
            (one.name, one.role, one.since[:10], f"barred {one.barred[:10]}" if one.barred else "") for one in found
        ]
        yield from columns(rows, ("name", "role", "since", "")) if rows else ["Nobody has to sign in here."]

    answer(
        where, [{"name": one.name, "role": one.role, "since": one.since, "barred": one.barred} for one in found], told
    )


@people.command
def add(name: str, /, *, role: RoleName = "writer", where: Home = Home()) -> None:
    """Add somebody; the password is asked for, or read from standard input.

    Parameters
    ----------
    name
        As it will stand on entries.
    role
        reader looks; writer also writes; keeper also seals, settles, takes in, and looks after this list.
    """
    _people(where).add(name, role, _password())
    answer(where, {"name": name, "role": role}, lambda: [f"{name} may sign in as {role}"])


@people.command
def change(
    name: str,
    /,
    *,
    role: RoleName | None = None,
    password: bool = False,
    bar: bool = False,
    let_in: bool = False,
    where: Home = Home(),
) -> None:
    """Give somebody another role or password, bar them, or let them in again. Their sessions end.

    Parameters
    ----------
    name
        As listed.
    role
        reader, writer, keeper.
    password
        Ask for a new password.
    bar
        Bar them; what they wrote stays.
    let_in
        Let them in again.
    """
    if not (role or password or bar or let_in):
        raise InputError("change", name, "says nothing to change", allowed="--role, --password, --bar, --let-in")
    barred = True if bar else False if let_in else None
    _people(where).change(name, role=role, password=_password() if password else None, barred=barred)
    answer(where, {"name": name}, lambda: [f"Changed: {name}"])


@people.command
def door(*, most: int = 50, where: Home = Home()) -> None:
    """List who signed in and out, what was refused, and changes of the list, newest first.

    Parameters
    ----------
    most
        How many lines.
    """
    found = _people(where).doings(most)
    data = [{"at": one.at, "name": one.name, "what": one.what, "says": one.says} for one in found]
    rows = [(one.at[:19], one.name, one.what.replace("_", " "), one.says) for one in found]
    answer(where, data, lambda: columns(rows, ("when", "who", "what", "")) if rows else ["Nothing yet."])


def office(
    *,
    host: str = "127.0.0.1",
    port: int | None = None,
    name: tuple[str, ...] = (),
    certificate: Path | None = None,
    key: Path | None = None,
    behind_proxy: bool = False,
    where: Home = Home(),
) -> None:
    """Serve the pages to several people, who sign in. Ctrl+C stops; everything typed is kept.

    Parameters
    ----------
    host
        Address to listen at: 127.0.0.1, an address of this machine, or 0.0.0.0 for all.
    port
        Port; without it the first free one from 8760 on.
    name
        Name by which it is addressed, for example records.example.org; may be given several times.
    certificate
        File of the certificate (PEM); with it, pages go over TLS.
    key
        File of its private key.
    behind_proxy
        Another server before this one encrypts.
    """
    from asfound.web.office import serve_office

    def announce(address: str) -> None:
        said = json.dumps({"address": address}) if where.json else f"asfound is open at {address}\nStop it with Ctrl+C."
        print(said, flush=True)

    serve_office(
        opened(where), host=host, port=port, names=name, certificate=certificate, key=key,
        behind_proxy=behind_proxy, announce=announce,
    )  # fmt: skip


def _people(where: Home) -> People:
    from asfound.records.people import People

    records = opened(where)
    return People(records.database, records.clock)


def _password() -> str:
    """Return a password: typed twice on a terminal, else the first line of standard input."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\n")
    first = getpass.getpass("Password (12 signs or more): ")
    if getpass.getpass("Once more: ") != first:
        raise InputError("password", "", "was typed in two ways", try_next="Try again.")
    return first
