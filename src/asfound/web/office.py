"""The pages of an office: the same pages, behind a sign-in, for several people on one record."""

from __future__ import annotations

import contextlib
import ipaddress
from typing import TYPE_CHECKING

from starlette.middleware import Middleware

from asfound.errors import InputError, RecordError
from asfound.records.people import People
from asfound.web import sign_in
from asfound.web.app import create_app
from asfound.web.security import LOOPBACK, is_loopback
from asfound.web.serve import bound

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from starlette.applications import Starlette

    from asfound.records.store import Records

FIRST_PORT = 8760


def office_app(
    records: Records, *, hosts: Sequence[str] = LOOPBACK, behind_proxy: bool = False, debug: bool = False
) -> Starlette:
    """Return the application that asks everybody to sign in.

    Parameters
    ----------
    records : Records
    hosts : sequence of str
        Names by which this server may be addressed.
    behind_proxy : bool
        Whether a server before this one encrypts, so that cookies may go over encrypted connections only.
    debug : bool
        Let an unexpected error through to the caller (for tests).

    Raises
    ------
    RecordError
        Nobody may sign in yet.
    """
    people = People(records.database, records.clock)
    if not any(one.role == "keeper" and not one.barred for one in people.listed()):
        raise RecordError("Nobody may sign in yet. Add the first keeper: asfound people add NAME --role keeper")
    app = create_app(records, who="office", hosts=hosts, debug=debug)
    app.user_middleware.append(Middleware(sign_in.SignIn, people=people))
    app.router.routes[:0] = sign_in.ROUTES
    app.state.people, app.state.behind_proxy = people, behind_proxy
    return app


def serve_office(
    records: Records,
    *,
    host: str,
    port: int | None,
    names: Sequence[str] = (),
    certificate: Path | None = None,
    key: Path | None = None,
    behind_proxy: bool = False,
    announce: Callable[[str], None] | None = None,
) -> None:
    """Serve a record to several people until interrupted.

    Raises
    ------
    InputError
        Beyond this machine passwords would go unencrypted; or an address, a port or a certificate cannot be.
    RecordError
        Nobody may sign in yet.
    """
    import uvicorn

    safe = certificate is not None or behind_proxy
    if not is_loopback(host) and not safe:
        raise InputError(
            "host", host, "can be reached by others, who would send their passwords unencrypted",
            try_next="Give --certificate and --key, or --behind-proxy where another server encrypts.",
        )  # fmt: skip
    for name, file in (("certificate", certificate), ("key", key)):
        if file is not None and not file.is_file():
            raise InputError(name, str(file), "is no file")
    try:
        address = str(ipaddress.ip_address("127.0.0.1" if host == "localhost" else host.strip("[]")))
    except ValueError:
        raise InputError("host", host, "is no address", allowed="0.0.0.0, 192.168.1.20, 127.0.0.1") from None
    shown = f"[{address}]" if ":" in address else address
    app = office_app(records, hosts=[*LOOPBACK, shown, *names], behind_proxy=behind_proxy)
    with contextlib.closing(bound(address, port, FIRST_PORT)) as listening:
        scheme = "https" if certificate else "http"
        config = uvicorn.Config(
            app, log_level="warning", lifespan="off", access_log=False, server_header=False,
            proxy_headers=behind_proxy, ssl_certfile=certificate, ssl_keyfile=key,
        )  # fmt: skip
        (announce or print)(f"{scheme}://{names[0] if names else shown}:{listening.getsockname()[1]}/")
        with contextlib.suppress(KeyboardInterrupt):
            uvicorn.Server(config).run(sockets=[listening])
