"""Start the local server: find a free port, print the address, open the browser, stop cleanly.

Beside this machine's own door there may be one for tablets, on the site's own network: encrypted, and only for devices
that were let in. It is a door of its own, so that nothing that holds for loopback ever holds there.
"""

from __future__ import annotations

import contextlib
import gc
import socket
import sys
import tempfile
import threading
import webbrowser
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from asfound.errors import InputError
from asfound.records.lock import passing_in
from asfound.web.authority import check_private, need_cryptography, own_address
from asfound.web.security import is_loopback

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import uvicorn
    from starlette.applications import Starlette

    from asfound.records.store import Records
    from asfound.web.pairing import Sharing

FIRST_PORT = 8720
FIRST_SHARED = 8790
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
            try_next="Beyond this machine it is encrypted and asks every device for its token: add --share.",
        )
    return bound("127.0.0.1" if host == "localhost" else host.strip("[]"), port, FIRST_PORT)


def bound(address: str, port: int | None, first: int) -> socket.socket:
    """Return a socket that listens at an address: on ``port``, or on the first free one from ``first`` on."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    tried = range(first, first + PORTS_TRIED) if port is None else [port]
    for one in tried:
        # Named as TCP: only then does the event loop send each part of an answer at once, not when 40 ms are over.
        listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
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
        "port",
        str(port or first),
        "is taken by another program, or the address is not this machine's",
        try_next="Give another with --port or --share-port; look the address up in the network.",
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
    share: bool = False,
    share_at: str = "",
    share_port: int | None = None,
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
    share : bool
        Also open a door for tablets on the site's own network: over TLS, and for devices that were let in only.
    share_at : str
        Address of that door; empty: the one that this machine has in the network.
    share_port : int, optional
        None finds a free one, beginning at 8790; 0 lets the system choose.

    Raises
    ------
    InputError
        An address or a port cannot be; or sharing lacks its library, or a network.
    """
    from asfound.web.ahead import RARELY, Ahead, Asked, make_ready

    gc.set_threshold(*RARELY)  # until all is loaded
    import uvicorn

    from asfound.records.store import Records
    from asfound.web.app import create_app

    if share:
        need_cryptography()
        share_at = check_private(share_at or own_address())
    with contextlib.closing(listening_socket(host, port)) as listening:
        shown = f"[{host.strip('[]')}]" if ":" in host else host
        address = f"http://{shown}:{listening.getsockname()[1]}/" + (f"?token={token}" if token else "")
        records = Records.open(home)
        if passing := passing_in(records.home.folder):  # what is sent to a locked home is not put aside plain either
            tempfile.tempdir = passing
        with contextlib.ExitStack() as doors:
            sharing, at_door = None, None
            if share:
                at_door = doors.enter_context(bound(share_at, share_port, FIRST_SHARED))
                sharing = make_sharing(records, share_at, at_door.getsockname()[1])
            app = create_app(records, token=token, who=who, share=sharing)
            house = app.state.house
            house.ahead = Ahead(house, partial(make_ready, house, app.state.load))
            house.ahead.begin()
            doors.callback(house.ahead.stop)
            server = uvicorn.Server(
                uvicorn.Config(
                    Asked(app, house.ahead), log_level="warning", lifespan="off", access_log=False, server_header=False
                )
            )
            if sharing is not None and at_door is not None:
                doors.enter_context(open_door(records, app, sharing, at_door, who=who))
            (announce or _print_address)(address)
            if sharing is not None and announce is None:
                print(f"Tablets reach it at {sharing.address}; let one in at {address}sharing", flush=True)
            if open_browser:
                threading.Thread(target=_open_when_ready, args=(server, address), daemon=True).start()
            with contextlib.suppress(KeyboardInterrupt):
                server.run(sockets=[listening])


def make_sharing(records: Records, address: str, port: int) -> Sharing:
    """Return the door for tablets of a home, with its authority and its list of devices."""
    from asfound.records.devices import Devices
    from asfound.web.authority import authority
    from asfound.web.pairing import Sharing

    shown = f"[{address}]" if ":" in address else address
    folder = records.home.folder
    return Sharing(f"https://{shown}:{port}", authority(folder), Devices(folder))


@contextlib.contextmanager
def open_door(
    records: Records, beside: Starlette, sharing: Sharing, listening: socket.socket, *, who: str | None = None
) -> Iterator[None]:
    """Serve the door for tablets in a thread of its own while the block runs; TLS 1.2 or newer.

    Raises
    ------
    InputError
        The address is not of the site's own network.
    """
    import uvicorn

    from asfound.web.app import create_app
    from asfound.web.authority import door_file, names_of_this_laptop

    address = check_private(listening.getsockname()[0])
    pem = str(door_file(records.home.folder, address))
    hosts = (f"[{address}]" if ":" in address else address, *names_of_this_laptop())
    app = create_app(records, who=who, hosts=hosts, share=sharing, beside=beside)
    config = uvicorn.Config(
        app,
        log_level="critical",  # a tablet that does not trust the laptop yet breaks off; that is no news
        lifespan="off",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        ssl_certfile=pem,
        ssl_keyfile=pem,
    )
    config.load()
    Path(pem).unlink(missing_ok=True)  # the key of the door is in memory now and is made anew at each start
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        yield
    finally:
        server.should_exit = True
        thread.join(10)


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
