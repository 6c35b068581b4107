"""The floors of the house: who may use whom, and what the doors may load before they are asked anything."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "src" / "asfound"
HEAVY = ("scipy", "duckdb", "typst", "alembic", "PIL")
CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]


def contract(name: str) -> dict[str, list[str]]:
    return next(one for one in CONTRACTS if one["id"] == name)


def rooms_on_disk() -> set[str]:
    return {path.parent.name for path in PACKAGE.glob("*/__init__.py")}


def rooms_in_the_floors() -> list[list[str]]:
    """Rooms by floor, from the roof down."""
    return [[room.strip(" ()") for room in floor.split("|")] for floor in contract("floors")["layers"]]


def test_every_room_stands_on_a_floor():
    standing = {room for floor in rooms_in_the_floors() for room in floor}
    assert rooms_on_disk() <= standing


def test_every_room_that_computes_is_kept_from_databases_and_terminals():
    floors = rooms_in_the_floors()
    below_records = {room for floor in floors[floors.index(["records"]) + 1 :] for room in floor} & rooms_on_disk()
    contracts = (contract("rooms-compute"), contract("rooms-logs"))  # the room of logs reads and writes logs
    kept = {name.removeprefix("asfound.") for one in contracts for name in one["source_modules"]}
    assert below_records <= kept


def lint(project: Path) -> subprocess.CompletedProcess[str]:
    command = [
        sys.executable,
        "-c",
        "import sys; from importlinter.cli import lint_imports_command as c; sys.exit(c())",
    ]
    source = f"import sys; sys.path.insert(0, {str(project / 'src')!r}); "
    command[2] = source + command[2]
    return subprocess.run([*command, "--no-cache"], cwd=project, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    ("file", "fault"),
    [
        ("quantities/planted.py", "from asfound.web import planted_page"),
        ("sources/planted.py", "def later():\n    import asfound.quantities.words"),
        ("exhaust/planted.py", "import asfound.power"),
        ("evidence/planted.py", "import pydantic"),
        ("records/planted.py", "def page():\n    import starlette"),
    ],
)
def test_a_planted_fault_is_found(tmp_path, file, fault):
    """Each kind of wrong import, at the top or inside a function, breaks the contracts."""
    project = skeleton(tmp_path)
    assert lint(project).returncode == 0
    (project / "src" / "asfound" / file).write_text(fault + "\n", encoding="utf-8")
    broken = lint(project)
    assert broken.returncode == 1
    assert "BROKEN" in broken.stdout
    assert file.removesuffix(".py").replace("/", ".") in broken.stdout


def skeleton(folder: Path) -> Path:
    """Return a project with our contracts over empty rooms."""
    (folder / "src" / "asfound").mkdir(parents=True)
    shutil.copy(ROOT / "pyproject.toml", folder)
    for name in ("__init__.py", "errors.py", "__main__.py"):
        (folder / "src" / "asfound" / name).touch()
    for room in rooms_on_disk():
        (folder / "src" / "asfound" / room).mkdir()
        (folder / "src" / "asfound" / room / "__init__.py").touch()
    (folder / "src/asfound/quantities/words.py").touch()
    (folder / "src/asfound/web/planted_page.py").touch()
    return folder


@pytest.mark.parametrize("module", ["asfound", "asfound.cli", "asfound.cli.door", "asfound.web"])
def test_a_door_opens_light(module):
    """`import` loads none of the heavy libraries; they are imported where they are used."""
    asked = f"import sys, {module}; print(*sorted(set(sys.modules) & set({HEAVY!r})))"
    loaded = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True).stdout.split()
    assert loaded == []


def test_help_needs_no_record_no_numbers_no_validator():
    """`asfound --help` stays under its 200 ms only if it loads the parser of commands and nothing of the rooms."""
    asked = (
        "import sys; from asfound.cli import main; main(['--help']); "
        "print(*{name.split('.')[0] for name in sys.modules}, *[n for n in sys.modules if n.startswith('asfound')])"
    )
    out = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True).stdout
    loaded = set(out.splitlines()[-1].split())
    assert not loaded & {
        *HEAVY,
        "numpy",
        "pydantic",
        "sqlalchemy",
        "yaml",
        "starlette",
        "jinja2",
        "uvicorn",
        "cryptography",
    }
    assert {name for name in loaded if name.startswith("asfound.")} <= {
        "asfound.cli", "asfound.cli.console", "asfound.cli.front", "asfound.cli.commands",
    }  # fmt: skip
