"""WebKit over WebDriver and Firefox over its own protocol, by the standard library alone; and what each of them lacks.

Only what the tests of these browsers need: to open a page, to ask a script, to press and to type. The commands are
those of WebDriver (https://www.w3.org/TR/webdriver2/); Firefox takes the same ones over a plain socket (Marionette).
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import time
import urllib.error
import urllib.request
from glob import glob
from pathlib import Path
from typing import Any, Protocol

ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
"""The key under which WebDriver gives an element (its section 12.1)."""
TAB, START = "\ue004", 60.0


class Speaks(Protocol):
    """A way to give a command of WebDriver."""

    def ask(self, command: str, **given: Any) -> Any: ...


class OverHttp:
    """WebDriver as the standard has it: JSON over HTTP."""

    PATHS = {
        "Navigate": "url",
        "ExecuteScript": "execute/sync",
        "FindElement": "element",
        "ElementClick": "element/{id}/click",
        "ElementSendKeys": "element/{id}/value",
    }

    def __init__(self, port: int, options: dict[str, Any]) -> None:
        self.base = f"http://127.0.0.1:{port}/session"
        _until_open(port)
        told = self._post(self.base, {"capabilities": {"alwaysMatch": {"acceptInsecureCerts": True, **options}}})
        self.base += f"/{told['sessionId']}"

    def ask(self, command: str, **given: Any) -> Any:
        return self._post(f"{self.base}/{self.PATHS[command].format(**given)}", given)

    @staticmethod
    def _post(url: str, body: dict[str, Any]) -> Any:
        asked = urllib.request.Request(url, json.dumps(body).encode(), {"content-type": "application/json"})
        try:
            with urllib.request.urlopen(asked, timeout=120) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as error:
            raise RuntimeError(error.read().decode()) from error


class OverSocket:
    """The same commands as Firefox takes them: ``length:[0, number, command, what is given]``."""

    def __init__(self, port: int) -> None:
        _until_open(port)
        self.socket = socket.create_connection(("127.0.0.1", port), timeout=120)
        self.number = 0
        self._read()
        self.ask("NewSession", acceptInsecureCerts=True)

    def ask(self, command: str, **given: Any) -> Any:
        self.number += 1
        said = json.dumps([0, self.number, f"WebDriver:{command}", given]).encode()
        self.socket.sendall(b"%d:%s" % (len(said), said))
        _, _, fault, value = self._read()
        if fault:
            raise RuntimeError(f"{fault['error']}: {fault['message']}")
        return value["value"] if isinstance(value, dict) and set(value) == {"value"} else value

    def close(self) -> None:
        self.socket.close()

    def _read(self) -> Any:
        size = b""
        while not size.endswith(b":"):
            size += self._take(1)
        left, text = int(size[:-1]), b""
        while len(text) < left:
            text += self._take(left - len(text))
        return json.loads(text)

    def _take(self, most: int) -> bytes:
        got = self.socket.recv(most)
        if not got:
            raise RuntimeError("The browser is gone.")
        return got


class Driven:
    """One browser with one page."""

    def __init__(self, speaks: Speaks) -> None:
        self.speaks = speaks

    def go(self, url: str) -> None:
        self.speaks.ask("Navigate", url=url)

    def run(self, script: str, *given: Any) -> Any:
        return self.speaks.ask("ExecuteScript", script=script, args=list(given))

    def until(self, script: str, *given: Any, patience: float = 60.0) -> Any:
        """Ask until the answer is true, over pages that come and go meanwhile."""
        ends, last = time.monotonic() + patience, "nothing"
        while time.monotonic() < ends:
            with contextlib.suppress(RuntimeError):
                last = self.run(script, *given)
                if last:
                    return last
            time.sleep(0.1)
        raise AssertionError(
            f"{script} with {given} gave {last!r}; the page says: {self.run('return document.body.innerText')[:600]}"
        )

    def press(self, chosen: str) -> None:
        self.speaks.ask("ElementClick", id=self._seen(chosen))

    def type(self, chosen: str, text: str) -> None:
        """Replace what stands in a field, key by key, and leave it."""
        found = self._seen(chosen)
        self.run("arguments[0].focus(); arguments[0].select()", {ELEMENT: found})
        self.speaks.ask("ElementSendKeys", id=found, text=text + TAB)

    def _seen(self, chosen: str) -> str:
        self.until("return document.querySelector(arguments[0])?.getClientRects().length", chosen)
        found = self.speaks.ask("FindElement", using="css selector", value=chosen)
        self.run("arguments[0].scrollIntoView({block: 'center'})", found)
        return str(found[ELEMENT])


# ---------------------------------------------------------------------- which there are, and how each is started

WEBKIT = ("/usr/lib/*/webkit2gtk-4.1/MiniBrowser", "WebKitWebDriver", "webkit2gtk-driver and xvfb")
OLDER = ("/usr/lib/*/wpe-webkit-1.1/MiniBrowser", "WPEWebDriver", "wpewebkit-driver")


class LackingError(Exception):
    """Said when a browser or its driver is not here: which Debian package brings it."""


def open_browser(name: str, folder: Path, stack: contextlib.ExitStack) -> Driven:
    """Start ``webkit``, ``older webkit`` or ``firefox``; it ends with the stack."""
    port = _free_port()
    if name == "firefox":
        program = shutil.which("firefox-esr") or shutil.which("firefox")
        if program is None:
            raise LackingError("firefox-esr")
        folder.joinpath("user.js").write_text(f'user_pref("marionette.port", {port});\n')
        _start(stack, [program, "--headless", "--marionette", "--no-remote", "--profile", str(folder)], folder)
        return Driven(stack.enter_context(contextlib.closing(OverSocket(port))))
    pattern, driver, package = WEBKIT if name == "webkit" else OLDER
    shown = name == "webkit"
    programs = glob(pattern)
    if not programs or shutil.which(driver) is None or (shown and shutil.which("Xvfb") is None):
        raise LackingError(package)
    screen = _display(stack, folder) if shown else ""
    _start(stack, [driver, f"--port={port}"], folder, screen=screen)
    options = {"binary": programs[0], "args": ["--automation", *([] if shown else ["--headless"])]}
    return Driven(OverHttp(port, {"webkitgtk:browserOptions" if shown else "wpe:browserOptions": options}))


def _display(stack: contextlib.ExitStack, folder: Path) -> str:
    """Start a screen that nobody sees, and return its name."""
    read, write = os.pipe()
    _start(stack, ["Xvfb", "-displayfd", str(write), "-screen", "0", "1400x1200x24"], folder, keep=(write,))
    os.close(write)
    with os.fdopen(read) as said:
        return f":{said.readline().strip()}"


def _start(
    stack: contextlib.ExitStack, command: list[str], home: Path, keep: tuple[int, ...] = (), screen: str = ""
) -> None:
    own = dict.fromkeys(("HOME", "XDG_CACHE_HOME", "XDG_DATA_HOME"), str(home))
    environment = {**os.environ, **own, **({"DISPLAY": screen} if screen else {})}
    quiet = subprocess.DEVNULL
    one = subprocess.Popen(command, env=environment, stdout=quiet, stderr=quiet, pass_fds=keep, start_new_session=True)
    stack.callback(_end, one)


def _end(one: subprocess.Popen[bytes]) -> None:
    """End a program with all that it started."""
    for how in (signal.SIGTERM, signal.SIGKILL):
        with contextlib.suppress(ProcessLookupError):
            os.killpg(one.pid, how)
        with contextlib.suppress(subprocess.TimeoutExpired):
            one.wait(5)
            return


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def _until_open(port: int) -> None:
    ends = time.monotonic() + START
    while time.monotonic() < ends:
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
            return
        time.sleep(0.1)
    raise RuntimeError(f"Nothing answers on port {port}.")
