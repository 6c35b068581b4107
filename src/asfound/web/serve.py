"""Start the local server: find a free port, print the address, open the browser, stop cleanly."""

from __future__ import annotations

import contextlib
import socket
import sys
import threading
import webbrowser
from typing import TYPE_CHECKING

from asfound.errors import InputError
from asfound.web.security import is_loopback

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import uvicorn

FIRST_PORT = 8720
PORTS_TRIED = 40


def listening_socket(host: str, port: int | None) -> socket.socket:
    """Return a socket that listens: on ``port``, or on the first free one from 8720 on when it is None.

    Raises
    ------
    InputError
        The address is not of this machine alone, or the port is taken.
    """
    if not is_loopback(host):
        raise InputError(
            "host",
            host,
            "can be reached by others",
            allowed="localhost, 127.0.0.1, ::1",
            try_next="Sharing needs encryption and a device token; this version serves this machine only.",
        )
    address = "127.0.0.1" if host == "localhost" else host.strip("[]")
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    tried = range(FIRST_PORT, FIRST_PORT + PORTS_TRIED) if port is None else [port]
    for one in tried:
        listening = socket.socket(family, socket.SOCK_STREAM)
        if sys.platform != "win32":  # there it would let two programs share the port
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((address, one))
            listening.listen(128)  # who reads the printed address at once is let in a moment later, not refused
        except OSError:
            listening.close()
            continue
        return listening
    raise InputError(
        "port", str(port or FIRST_PORT), "is taken by another program", try_next="Give another with --port."
    )


def serve(
    home: Path | str | None,
    port: int | None = None,
    open_browser: bool = True,
    *,
    host: str = "127.0.0.1",
    token: str | None = None,
    who: str | None = None,
    announce: Callable[[str], None] | None = None,
) -> None:
    """Serve the records of a home until interrupted.

    Parameters
    ----------
    home : path, optional
        Folder of the records; None takes the one of this user.
    port : int, optional
        None finds a free one, beginning at 8720; 0 lets the system choose.
    open_browser : bool
        Open the address in the browser once the server answers.
    host : str
        A loopback address.
    token : str, optional
        Asked of every browser; printed as part of the address.
    who : str, optional
        Name written into entries until a browser gives its own.
    announce : callable, optional
        Told the address, instead of printing it with a word on how to stop.
    """
    import uvicorn

    from asfound.records.store import Records
    from asfound.web.app import create_app

    with contextlib.closing(listening_socket(host, port)) as listening:
        shown = f"[{host.strip('[]')}]" if ":" in host else host
        address = f"http://{shown}:{listening.getsockname()[1]}/" + (f"?token={token}" if token else "")
        records = Records.open(home)
        app = create_app(records, token=token, who=who)
        server = uvicorn.Server(
            uvicorn.Config(app, log_level="warning", lifespan="off", access_log=False, server_header=False)
        )
        (announce or _print_address)(address)
        if open_browser:
            threading.Thread(target=_open_when_ready, args=(server, address), daemon=True).start()
        with contextlib.suppress(KeyboardInterrupt):
            server.run(sockets=[listening])


def _print_address(address: str) -> None:
    print(f"asfound is open at {address}\nStop it with Ctrl+C; everything typed is kept.", flush=True)


def _open_when_ready(server: uvicorn.Server, address: str) -> None:
    """Open the browser as soon as the server answers; a machine without one loses nothing."""
    import time

    while not server.started and not server.should_exit:
        time.sleep(0.02)
    if server.started:
        with contextlib.suppress(webbrowser.Error):
            webbrowser.open(address)
