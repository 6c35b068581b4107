"""`asfound serve`: says its address, answers there, refuses what is not of this machine, stops when told."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from urllib.request import urlopen

import pytest

from asfound.cli import CANNOT


@pytest.mark.skipif(os.name == "nt", reason="Ctrl+C is sent otherwise on Windows")
@pytest.mark.parametrize("how", ["plain", "json"])
def test_it_says_its_address_and_answers_there(demo, how):
    words = [sys.executable, "-m", "asfound", "serve", "--home", str(demo), "--port", "0"]
    with subprocess.Popen(
        [*words, *(["--json"] if how == "json" else [])], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as running:
        try:
            first = running.stdout.readline()
            address = json.loads(first)["address"] if how == "json" else first.split()[-1]
            assert address.startswith("http://127.0.0.1:")
            with urlopen(address, timeout=20) as answer:
                page = answer.read().decode()
            assert answer.status == 200
            assert "A2" in page
        finally:
            running.send_signal(signal.SIGINT)
            running.wait(timeout=20)
        assert running.returncode in (0, 130)
        assert "Traceback" not in running.stderr.read()


def test_an_address_that_others_reach_is_refused(asfound, demo):
    said = asfound("serve", "--host", "0.0.0.0", "--home", demo)
    assert said.code == CANNOT
    assert "127.0.0.1" in said.err


def test_sharing_beyond_the_sites_own_network_is_refused(asfound, demo):
    said = asfound("serve", "--share", "--share-at", "8.8.8.8", "--home", demo)
    assert said.code == CANNOT
    assert "site's own network" in said.err


@pytest.mark.skipif(os.name == "nt", reason="Ctrl+C is sent otherwise on Windows")
def test_sharing_says_where_tablets_reach_it(demo):
    words = [sys.executable, "-m", "asfound", "serve", "--home", str(demo), "--port", "0", "--share"]
    words += ["--share-at", "127.0.0.1", "--share-port", "0"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as running:
        try:
            said = [running.stdout.readline() for _ in range(3)]
            assert "Tablets reach it at https://127.0.0.1:" in said[2]
        finally:
            running.send_signal(signal.SIGINT)
            running.wait(timeout=20)
        assert "Traceback" not in running.stderr.read()
