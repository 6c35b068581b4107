"""`asfound serve`: the pages, on this machine, and on request for the tablets beside it."""

from __future__ import annotations

import json
from typing import Annotated

from cyclopts import Parameter

from asfound.cli.options import Hand


def serve(
    *,
    port: int | None = None,
    open_: Annotated[bool, Parameter(name="--open")] = False,
    host: str = "127.0.0.1",
    token: bool = False,
    share: bool = False,
    share_at: str = "",
    share_port: int | None = None,
    hand: Hand = Hand(),
) -> None:
    """Open the pages on this machine, and print their address. Ctrl+C stops; everything typed is kept.

    Parameters
    ----------
    port
        Port; without it the first free one from 8720 on. 0 lets the system choose.
    open_
        Open the address in the browser.
    host
        Loopback address: 127.0.0.1, localhost or ::1.
    token
        Ask every browser for a token that is part of the printed address: for a computer that others use too.
    share
        Also open a door for tablets on the site's own network: encrypted, for devices that you let in on the page
        "Let a tablet in".
    share_at
        Address of that door, such as 192.168.1.20; without it the one that this machine has in the network.
    share_port
        Its port; without it the first free one from 8790 on.
    """
    import secrets

    from asfound.web.serve import serve as run

    run(
        hand.home or None,
        port,
        open_,
        host=host,
        token=secrets.token_urlsafe(24) if token else None,
        who=hand.who or None,
        announce=_in_json if hand.json else None,
        share=share,
        share_at=share_at,
        share_port=share_port,
    )


def _in_json(address: str) -> None:
    print(json.dumps({"address": address}), flush=True)
