"""The people of an office: names, roles, passwords, sessions, and what was done at the door.

A password is kept as scrypt (RFC 7914) with a salt of its own, a session's token as its SHA-256: whoever reads the
database learns neither. Names and doings are never removed; somebody who left is barred.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, cast

from sqlalchemy import delete, func, insert, select, update

from asfound.errors import InputError, UnknownNameError
from asfound.records import kinds, office
from asfound.records.office import ROLES, Person, Role
from asfound.records.tables import DOINGS, PEOPLE, SESSIONS

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from asfound.records.database import Database
    from asfound.records.home import Clock

COST = (15, 8, 3)
"""log2 of N, r and p of scrypt: 32 MB and some 0.3 s for each try."""
SHORTEST = 12
"""A password of three words is longer. [signs]"""
LONGEST = 400
SESSION = timedelta(hours=12)
TRIES, WITHIN = 5, timedelta(minutes=15)
"""After so many wrong passwords within this time a name waits until it is over."""
WRONG = "Name or password is wrong, or this name is barred."


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """Somebody of the office."""

    name: str
    role: Role
    since: str
    barred: str
    """Since when; empty where they may sign in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Doing:
    """A line of what was done at the door."""

    at: str
    name: str
    what: str
    """``signed_in``, ``signed_out``, ``refused``, ``forbidden``, ``added``, ``changed``, ``barred``."""
    says: str


class People:
    """Who may do what in one record."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self.database, self.clock = database, clock

    def listed(self) -> tuple[Listed, ...]:
        """Return everybody by name, those barred too."""
        with self.database.reading() as connection:
            rows = connection.execute(select(PEOPLE).order_by(PEOPLE.c.name)).all()
        return tuple(
            Listed(name=one.name, role=cast("Role", one.role), since=one.since, barred=one.barred or "") for one in rows
        )

    def add(self, name: str, role: str, password: str) -> None:
        """Add somebody.

        Raises
        ------
        InputError
            The name is taken or none, there is no such role, or the password is too short.
        RoleError
            Who acts is no keeper.
        """
        office.allow("people")
        kinds.check_who(name)
        if name != name.strip() or not name.isprintable():
            raise InputError("name", name, "is no name that can be written again", try_next="Without blanks around it.")
        _check_role(role)
        kept = digest_of(password)
        with self.database.writing() as connection:
            if any(one.casefold() == name.casefold() for one in connection.execute(select(PEOPLE.c.name)).scalars()):
                raise InputError("name", name, "is there already", try_next="Change the role, or take another name.")
            row = {"name": name, "role": role, "password": kept, "since": self._now(), "barred": None}
            connection.execute(insert(PEOPLE).values(**row))
            self._note(connection, office.name() or name, "added", f"{name} as {role}")

    def change(
        self, name: str, *, role: str | None = None, password: str | None = None, barred: bool | None = None
    ) -> None:
        """Change role or password, bar somebody or let them in again; their sessions end.

        Raises
        ------
        InputError
            It would leave the office without a keeper; or as ``add``.
        """
        person = office.who_acts()
        if person is None or person.name != name or role is not None or barred is not None:
            office.allow("people")  # anybody may change their own password
        changes: dict[str, str | None] = {}
        if role is not None:
            changes["role"] = _check_role(role)
        if password is not None:
            changes["password"] = digest_of(password)
        if barred is not None:
            changes["barred"] = self._now() if barred else None
        with self.database.writing() as connection:
            self._known(connection, name)
            connection.execute(update(PEOPLE).where(PEOPLE.c.name == name).values(**changes))
            keepers = (
                select(func.count()).select_from(PEOPLE).where(PEOPLE.c.role == "keeper", PEOPLE.c.barred.is_(None))
            )
            if not connection.execute(keepers).scalar():
                raise InputError("role", name, "is the last keeper", try_next="Make somebody else keeper first.")
            connection.execute(delete(SESSIONS).where(SESSIONS.c.name == name))
            told = [f"role {role}"] * (role is not None) + ["password"] * (password is not None)
            told += ["let in again" if barred is False else "barred"] * (barred is not None)
            self._note(
                connection, office.name() or name, "barred" if barred else "changed", f"{name}: {', '.join(told)}"
            )

    def sign_in(self, name: str, password: str, *, source: str = "") -> str:
        """Return the token of a new session.

        Raises
        ------
        InputError
            Name or password is wrong, or too many were.
        """
        now = self.clock.now()
        with self.database.reading() as connection:
            row = connection.execute(select(PEOPLE).where(PEOPLE.c.name == name)).first()
            wrong = connection.execute(
                select(DOINGS.c.at)
                .where(DOINGS.c.name == name[:LONGEST], DOINGS.c.what == "refused")
                .order_by(DOINGS.c.seq.desc())
                .limit(TRIES)
            ).scalars()
            lately = sum(datetime.fromisoformat(one) > now - WITHIN for one in wrong)
        if lately >= TRIES:
            self.note(name, "refused", f"too many tries {source}".strip(), repeated=True)
            minutes = int(WITHIN.total_seconds() // 60)
            raise InputError(
                "password", "", f"was wrong {TRIES} times", try_next=f"Wait {minutes} min, or ask a keeper."
            )
        sound = is_password(password, row.password if row else _NOBODY)
        if row is None or row.barred or not sound:
            self.note(name, "refused", source)
            raise InputError("password", "", "does not open", try_next=WRONG)
        token = secrets.token_urlsafe(32)
        with self.database.writing() as connection:
            connection.execute(delete(SESSIONS).where(SESSIONS.c.until < _utc(now)))
            kept = {"token": _digest(token), "name": name, "until": _utc(now + SESSION)}
            connection.execute(insert(SESSIONS).values(**kept))
            self._note(connection, name, "signed_in", source)
        return token

    def of_token(self, token: str) -> Person | None:
        """Return whose session a token is; None where it is none, or over, or its person is barred."""
        if not token or len(token) > LONGEST:
            return None
        joined = select(PEOPLE.c.name, PEOPLE.c.role, PEOPLE.c.barred, SESSIONS.c.until).join(
            SESSIONS, SESSIONS.c.name == PEOPLE.c.name
        )
        with self.database.reading() as connection:
            row = connection.execute(joined.where(SESSIONS.c.token == _digest(token))).first()
        if row is None or row.barred or row.until < _utc(self.clock.now()):
            return None
        return Person(name=row.name, role=cast("Role", row.role))

    def sign_out(self, token: str) -> None:
        """End a session."""
        person = self.of_token(token)
        with self.database.writing() as connection:
            connection.execute(delete(SESSIONS).where(SESSIONS.c.token == _digest(token)))
            if person is not None:
                self._note(connection, person.name, "signed_out", "")

    def note(self, name: str, what: str, says: str = "", *, repeated: bool = False) -> None:
        """Write a line of what was done at the door. A refusal that only repeats does not make the wait longer."""
        with self.database.writing() as connection:
            self._note(connection, name, "waits" if repeated else what, says)

    def doings(self, most: int = 200) -> tuple[Doing, ...]:
        """Return what was done at the door, newest first."""
        with self.database.reading() as connection:
            rows = connection.execute(select(DOINGS).order_by(DOINGS.c.seq.desc()).limit(most)).all()
        return tuple(Doing(at=one.at, name=one.name, what=one.what, says=one.says) for one in rows)

    def _known(self, connection: Connection, name: str) -> None:
        known = list(connection.execute(select(PEOPLE.c.name)).scalars())
        if name not in known:
            raise UnknownNameError("person", name, known)

    def _note(self, connection: Connection, name: str, what: str, says: str) -> None:
        shown = "".join(one if one.isprintable() else "?" for one in name)[:LONGEST] or "-"
        row = {"at": self._now(), "name": shown, "what": what, "says": says[:1000].replace("\0", "?")}
        connection.execute(insert(DOINGS).values(**row))

    def _now(self) -> str:
        return self.clock.now().isoformat(timespec="seconds")


def digest_of(password: str) -> str:
    """Return a password as it is kept: ``scrypt$log2N$r$p$salt$digest``.

    Raises
    ------
    InputError
        It is too short or too long.
    """
    if not SHORTEST <= len(password) <= LONGEST:
        allowed = f"{SHORTEST} to {LONGEST} signs"
        raise InputError("password", "", "is too short or too long", allowed=allowed, try_next="Take three words.")
    salt = secrets.token_bytes(16)
    return _kept(password, salt, COST)


def is_password(password: str, kept: str) -> bool:
    """Tell whether a password is the one that was kept; takes as long for a wrong one."""
    form, logn, r, p, salt = kept.split("$")[:5]
    if form != "scrypt" or len(password) > LONGEST:
        return False
    return hmac.compare_digest(_kept(password, bytes.fromhex(salt), (int(logn), int(r), int(p))), kept)


def _kept(password: str, salt: bytes, cost: tuple[int, int, int]) -> str:
    logn, r, p = cost
    raw = password.encode("utf-8", "surrogatepass")
    made = hashlib.scrypt(raw, salt=salt, n=1 << logn, r=r, p=p, maxmem=1 << 27, dklen=32)
    return f"scrypt${logn}${r}${p}${salt.hex()}${made.hex()}"


_NOBODY = f"scrypt${COST[0]}${COST[1]}${COST[2]}${'00' * 16}${'00' * 32}"
"""What a name that is not there is compared with, so that it takes as long."""


def _check_role(role: str) -> str:
    if role not in ROLES:
        raise InputError("role", role, "is no role", allowed=", ".join(ROLES))
    return role


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def _utc(moment: datetime) -> str:
    """Return a time that sorts as text."""
    from datetime import UTC

    return moment.astimezone(UTC).isoformat(timespec="seconds")
