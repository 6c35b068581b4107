"""The locks: hashed, complete, and naming no registry."""

from __future__ import annotations

import importlib.util
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LOCKS = ("requirements.lock", "requirements-dev.lock")

spec = importlib.util.spec_from_file_location("no_hosts", ROOT / ".ci" / "no_hosts.py")
no_hosts = importlib.util.module_from_spec(spec)
spec.loader.exec_module(no_hosts)


def pinned(lock: str) -> dict[str, str]:
    text = (ROOT / lock).read_text(encoding="utf-8")
    return dict(re.findall(r"^([A-Za-z0-9._-]+)(?:\[[^]]*\])?==([^ \\;]+)", text, re.MULTILINE))


def plain(requirement: str) -> str:
    """Return a name as indexes compare it (PEP 503)."""
    return re.sub(r"[-_.]+", "-", re.split(r"[\[<>=; ]", requirement)[0]).lower()


@pytest.mark.parametrize("lock", LOCKS)
def test_every_package_of_a_lock_has_hashes(lock):
    blocks = re.split(r"\n(?=[A-Za-z0-9])", (ROOT / lock).read_text(encoding="utf-8").strip())
    assert blocks
    assert [block.splitlines()[0] for block in blocks if "--hash=sha256:" not in block] == []


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_names_no_registry(lock):
    assert no_hosts.faults(ROOT / lock) == []


@pytest.mark.parametrize(
    "line",
    ["--index-url somewhere", "numpy @ https" + "://example/numpy.whl", "--extra-index-url x", "--find-links /opt"],
)
def test_an_address_in_a_lock_is_found(tmp_path, line):
    lock = tmp_path / "requirements.lock"
    lock.write_text(f"numpy==2.4.6\n{line}\n", encoding="utf-8")
    assert no_hosts.main([str(lock)]) == 1


def test_a_registry_named_in_any_file_is_found(tmp_path):
    page = tmp_path / "page.md"
    page.write_text("install from " + "py" + "pi.org, please\n", encoding="utf-8")
    assert no_hosts.main([str(page)]) == 1


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_has_all_that_the_package_asks_for(lock):
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [*project["project"]["dependencies"], *project["dependency-groups"]["build"]]
    if lock == "requirements-dev.lock":
        wanted += [one for one in project["dependency-groups"]["dev"] if isinstance(one, str)]
        wanted += [*project["project"]["optional-dependencies"]["postgres"]]
    names = {plain(name) for name in pinned(lock)}
    assert [one for one in wanted if plain(one) not in names] == []


def test_both_locks_agree():
    run, dev = pinned("requirements.lock"), pinned("requirements-dev.lock")
    assert {name: (version, dev.get(name)) for name, version in run.items() if dev.get(name) != version} == {}
