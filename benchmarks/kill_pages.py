"""Saves through the pages while the server is killed -9 again and again; part of ``python -m benchmarks.kill``.

Three browsers post notes and photos at once. The server is forked from a process that has loaded the program, opens its
home anew, and is killed at a random moment after its first answer: loading takes seconds and is not what is to be cut.
"""

from __future__ import annotations

import hashlib
import http.client
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from itertools import count
from pathlib import Path
from urllib.parse import urlencode

BROWSERS = 3
LONGEST_LIFE = 0.6
"""So long a server lives at most after its first answer. [s]"""
MOTHER = """
import importlib, os, pkgutil, sys
import asfound.records, asfound.web.serve, PIL.PngImagePlugin, uvicorn.protocols.http.auto
from asfound.quantities import findings, worksheets
for package in asfound.records, asfound.web:
    for one in pkgutil.iter_modules(package.__path__, package.__name__ + "."):
        importlib.import_module(one.name)
worksheets.load(), findings.load()
for line in sys.stdin:
    life = os.fork()  # loading the program is not what is to be cut; each life opens its home anew
    if life == 0:
        print(os.getpid(), flush=True)
        asfound.web.serve.serve(sys.argv[1], int(sys.argv[2]), False, who="K", announce=lambda _: None)
    os.waitpid(life, 0)
    print("gone", flush=True)
"""


def by_pages(home: Path, saves: int, draw: random.Random) -> tuple[int, int, list[str]]:
    """Return how many saves were answered, how often the server was killed meanwhile, and what was found wrong."""
    from asfound.records.store import Records

    answered, kills, wrong = set[str](), 0, list[str]()
    with Records.open(home) as records:
        visit = next(one for one in records.visits() if one.sealed is None)
        base = f"/engines/{records.engine(visit.engine).tag}/{visit.date}"
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    mother = subprocess.Popen(
        [sys.executable, "-c", MOTHER, home, str(port)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert mother.stdin is not None
    assert mother.stdout is not None
    numbers = count(1)
    with ThreadPoolExecutor(BROWSERS) as browsers:
        while len(answered) < saves:
            print("live", file=mother.stdin, flush=True)
            server = int(mother.stdout.readline())
            first = threading.Event()
            lives = [browsers.submit(_browse, port, base, numbers, first) for _ in range(BROWSERS)]
            first.wait(60)  # what a new process must open first is not what is to be cut
            time.sleep(draw.uniform(0.0, LONGEST_LIFE))
            os.kill(server, signal.SIGKILL)
            kills += 1
            mother.stdout.readline()
            for kept, refused in (one.result() for one in lives):
                answered |= kept
                wrong += refused
    mother.communicate()
    return len(answered), kills, wrong + _lost_or_half(home, answered)


def _browse(port: int, base: str, numbers: Iterator[int], first: threading.Event) -> tuple[set[str], list[str]]:
    """Post one thing after the other until the server is gone; return what was answered as kept, and as refused."""
    kept, refused = set[str](), list[str]()
    patience = time.monotonic() + 60.0
    while True:
        number = next(numbers)
        name = f"saved {number}"
        try:
            if number % 3:
                status = _post(port, f"{base}/notes", {"text": name})
            else:
                status = _post(port, f"{base}/photos", {"caption": name}, photo(number))
        except ConnectionRefusedError:
            if first.is_set() or time.monotonic() > patience:
                return kept, refused
            time.sleep(0.02)  # it is not there yet
        except OSError:
            return kept, refused
        else:
            first.set()
            if status == 303:
                kept.add(name)
            else:
                refused.append(f"{name}: answered {status}")


def _lost_or_half(home: Path, answered: set[str]) -> list[str]:
    """Return what is wrong in a home whose pages had answered these names as kept."""
    from asfound.records.store import Records

    with Records.open(home) as records:
        photos = records.entries(kind="photo")
        names = [str(one.content["text"]) for one in records.entries(kind="note")]
        names += [str(one.content["caption"]) for one in photos]
        there = Counter(name for name in names if name.startswith("saved"))
        wrong = [f"lost: {one}" for one in answered if one not in there]
        wrong += [f"twice: {name}" for name, times in there.items() if times > 1]
        wrong += [f"damaged: {one.id}" for one in records.entries(kind="damaged")]
        for one in photos:
            content = records.attachment(str(one.content["digest"]))
            if hashlib.sha256(content).hexdigest() != one.content["digest"]:
                wrong.append(f"the photo of {one.content['caption']} is another")
        return wrong + list(records.database.faults())


def photo(number: int) -> bytes:
    """Return a small photo that no other is."""
    from PIL import Image

    out = BytesIO()
    Image.frombytes("RGB", (40, 30), random.Random(number).randbytes(3600)).save(out, "PNG")
    return out.getvalue()


def _post(port: int, path: str, fields: dict[str, str], picture: bytes | None = None) -> int:
    host = f"127.0.0.1:{port}"
    headers = {"origin": f"http://{host}", "sec-fetch-site": "same-origin"}
    if picture is None:
        body, headers["content-type"] = urlencode(fields).encode(), "application/x-www-form-urlencoded"
    else:
        mark = "xXboundaryXx"
        named = 'content-disposition: form-data; name="{}"'
        parts = [f"--{mark}\r\n{named.format(name)}\r\n\r\n{value}\r\n" for name, value in fields.items()]
        parts.append(f'--{mark}\r\n{named.format("photo")}; filename="a.png"\r\ncontent-type: image/png\r\n\r\n')
        body = "".join(parts).encode() + picture + f"\r\n--{mark}--\r\n".encode()
        headers["content-type"] = f"multipart/form-data; boundary={mark}"
    try:
        connection = http.client.HTTPConnection(host, timeout=30)
        connection.request("POST", path, body, headers)
        status = connection.getresponse().status
        connection.close()
    except http.client.HTTPException as broken:
        raise OSError(str(broken)) from broken
    return status
