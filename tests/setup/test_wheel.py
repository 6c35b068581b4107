"""The package as it is handed over: complete, and able to install from a folder of wheels with no network."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "src" / "asfound"
NEVER = {".pyc"}
WITHOUT_INDEX = {"PIP_NO_INDEX": "1", "PIP_CONFIG_FILE": os.devnull, "PIP_DISABLE_PIP_VERSION_CHECK": "1"}

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("wheel")]


def run(*command: object, **settings: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run([str(part) for part in command], capture_output=True, text=True, check=False, **settings)


@pytest.fixture(scope="session")
def wheel(tmp_path_factory):
    """The project's own wheel, built as `pip install .` builds it."""
    folder = tmp_path_factory.mktemp("wheel")
    built = run(sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", folder, ROOT)
    assert built.returncode == 0, built.stderr
    return next(folder.glob("asfound-*.whl"))


def test_the_wheel_has_every_file_of_the_package(wheel):
    """Tables, catalogues, templates, fonts, style, script, migrations: whatever lies beside the code is in it."""
    packed = set(zipfile.ZipFile(wheel).namelist())
    lying = {
        str(Path("asfound") / path.relative_to(PACKAGE)).replace(os.sep, "/")
        for path in PACKAGE.rglob("*")
        if path.is_file() and path.suffix not in NEVER and "__pycache__" not in path.parts
    }
    assert lying - packed == set()
    assert "asfound/py.typed" in packed
    for suffix in (".yaml", ".csv", ".typ", ".ttf", ".html", ".css", ".js", ".woff2"):
        assert any(name.endswith(suffix) for name in packed), f"no {suffix} file in the wheel"


def test_the_wheel_says_licence_extras_and_command(wheel):
    with zipfile.ZipFile(wheel) as inside:
        names = inside.namelist()
        about = inside.read(next(name for name in names if name.endswith(".dist-info/METADATA"))).decode()
        commands = inside.read(next(name for name in names if name.endswith("entry_points.txt"))).decode()
    assert any(name.endswith("licenses/LICENSE") for name in names)
    assert "License-Expression: Apache-2.0" in about
    assert {f"Provides-Extra: {extra}" for extra in ("postgres", "fleet", "labels", "share", "all")} <= set(
        about.splitlines()
    )
    assert "asfound = asfound.cli:main" in commands


@pytest.fixture(scope="session")
def bundle(tmp_path_factory):
    """What `make bundle` makes; skipped where no registry answers, unless CI asks for it."""
    folder = tmp_path_factory.mktemp("bundle")
    environment = {**os.environ, "BIN": str(Path(sys.executable).parent)}
    made = run(ROOT / ".ci" / "bundle", folder, cwd=ROOT, env=environment)
    if made.returncode:
        if os.environ.get("ASFOUND_REQUIRE_BUNDLE") == "1":
            pytest.fail(f"`make bundle` failed: {made.stderr}")
        pytest.skip(f"no package registry answers here, so no bundle can be made: {made.stderr.strip()[-200:]}")
    return folder


@pytest.fixture(scope="session")
def installed(bundle, tmp_path_factory):
    """A fresh environment, filled from the folder of wheels with the index switched off; gives its `asfound`."""
    place = tmp_path_factory.mktemp("fresh") / "env"
    venv.create(place, with_pip=True, symlinks=os.name != "nt")
    python = place / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    command = (python, "-m", "pip", "install", "-q", "--no-compile", "--no-index", "--find-links", bundle, "asfound")
    done = run(*command, env={**os.environ, **WITHOUT_INDEX})
    assert done.returncode == 0, done.stderr
    return python.parent / "asfound"


def offline(command: tuple[object, ...], folder: Path) -> subprocess.CompletedProcess[str]:
    """Run outside the checkout, in a namespace without network where this system and user can make one."""
    unshare = ("unshare", "--net") if os.name != "nt" and run("unshare", "--net", "true").returncode == 0 else ()
    without = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHONPATH", "ASFOUND"))}
    return run(*unshare, *command, cwd=folder, env=without)


def test_installed_with_no_index_it_says_its_version(installed, tmp_path):
    from asfound import __version__

    said = offline((installed, "--version"), tmp_path)
    assert (said.returncode, said.stdout.strip()) == (0, __version__)


def test_installed_with_no_index_it_proves_every_published_value(installed, tmp_path):
    said = offline((installed, "prove", "--json"), tmp_path)
    assert said.returncode == 0, said.stderr or said.stdout[-2000:]
    checks = json.loads(said.stdout)
    assert checks
    assert [one for one in checks if not one["holds"]] == []


def test_installed_with_no_index_it_makes_the_demo_and_its_report(installed, tmp_path):
    made = offline((installed, "demo", tmp_path / "home", "--json"), tmp_path)
    assert made.returncode == 0, made.stderr
    assert "A2" in json.loads(made.stdout)["engines"]
    report = offline(
        (installed, "report", "A2", "--output", tmp_path / "a2.pdf", "--home", tmp_path / "home"), tmp_path
    )
    assert report.returncode == 0, report.stderr
    assert (tmp_path / "a2.pdf").read_bytes().startswith(b"%PDF-")
