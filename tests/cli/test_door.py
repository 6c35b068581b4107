"""The frame: help, JSON, exit codes, complaints, completion, colour."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from asfound import __version__
from asfound.cli import CANNOT, FAULT, INTERRUPTED
from asfound.cli.commands import COMMANDS, GROUPS
from asfound.cli.door import build
from asfound.cli.manual import leaves

LEAVES = [words for words in leaves(build()) if words]


def test_help_lists_every_command_under_its_group(asfound):
    said = asfound("--help")
    assert said.code == 0
    assert all(f"\n  {one.name} " in said.out for one in COMMANDS)
    assert all(group in said.out for group in GROUPS)
    assert asfound().out == said.out, "without a command: the help"


def test_version(asfound):
    assert asfound("--version").out.strip() == __version__


def test_help_after_another_option_is_the_parsers_own(asfound):
    assert all(one.name in asfound("--help", "--help").out for one in COMMANDS)


@pytest.mark.parametrize("words", LEAVES, ids=" ".join)
def test_every_command_has_help_and_json(asfound, words):
    app = build()
    for word in words:
        app = app[word]
    collection = app.assemble_argument_collection()
    names = {name for argument in collection for name in argument.names}
    assert "--json" in names
    said = asfound(*words, "--help")
    assert said.code == 0
    assert said.out.strip()


@pytest.mark.parametrize("words", LEAVES, ids=" ".join)
def test_every_argument_says_what_it_is(words):
    app = build()
    for word in words:
        app = app[word]
    collection = app.assemble_argument_collection(parse_docstring=True)
    bare = [a.names for a in collection if a.show and not (a.parameter.help or "").strip()]
    assert bare == []


def test_an_unknown_command_or_option_is_refused_with_what_is_near(asfound):
    wrong = asfound("fited", "A2")
    assert (wrong.code, wrong.out) == (CANNOT, "")
    assert "fited" in wrong.err
    option = asfound("sources", "--jsn")
    assert option.code == CANNOT
    assert "--json" in option.err


def test_what_a_person_caused_is_one_message_without_a_traceback(asfound, tmp_path):
    said = asfound("engines", "--home", tmp_path / "nothing")
    assert said.code == CANNOT
    assert said.err.startswith("asfound: There is no record in")
    assert "asfound demo" in said.err
    assert "Traceback" not in said.err
    assert not (tmp_path / "nothing").exists(), "looking does not make a record"


def test_a_fault_of_the_program_says_so_and_shows_where(asfound, monkeypatch):
    import asfound.sources.register as register

    def broken():
        raise RuntimeError("planted")

    monkeypatch.setattr(register, "sources", broken)
    said = asfound("sources")
    assert said.code == FAULT
    assert "planted" in said.err
    assert "fault of the program" in said.err


def test_control_c_has_the_usual_code(asfound, monkeypatch):
    import asfound.sources.register as register

    def stopped():
        raise KeyboardInterrupt

    monkeypatch.setattr(register, "sources", stopped)
    assert asfound("sources").code == INTERRUPTED


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish", "powershell"])
def test_completion_knows_the_commands(asfound, shell):
    script = asfound("completion", shell).out
    assert all(one.name in script for one in COMMANDS)


def test_bash_accepts_its_completion_script(asfound):
    script = asfound("completion", "bash").out
    assert subprocess.run(["bash", "-n"], input=script, text=True, check=False).returncode == 0


def test_no_colour_beside_a_terminal(asfound):
    assert "\x1b[" not in asfound("sources").out
    assert "\x1b[" not in asfound("--help").out


@pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are not on Windows")
@pytest.mark.parametrize(("no_color", "coloured"), [(None, True), ("1", False)])
def test_colour_on_a_terminal_unless_no_color(no_color, coloured):
    import pty

    mine, theirs = pty.openpty()
    environment = {name: value for name, value in os.environ.items() if name not in ("NO_COLOR", "FORCE_COLOR")}
    environment |= {"TERM": "xterm"} | ({"NO_COLOR": no_color} if no_color else {})
    command = [sys.executable, "-m", "asfound", "units", "exhaust_oxygen_dry"]
    with subprocess.Popen(command, stdout=theirs, stderr=subprocess.DEVNULL, env=environment) as running:
        os.close(theirs)
        seen = b""
        while True:
            try:
                piece = os.read(mine, 65536)
            except OSError:  # the other end is closed
                break
            if not piece:
                break
            seen += piece
    os.close(mine)
    assert running.returncode == 0
    assert (b"\x1b[" in seen) is coloured


def test_a_reader_that_has_seen_enough_is_no_fault():
    command = f"{sys.executable} -m asfound quantities | head -1"
    done = subprocess.run(["bash", "-o", "pipefail", "-c", command], capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert done.stderr == ""
