"""Every command that the documentation shows is typed as it stands there, page by page, on a demo home.

The tutorial, the tours, README's block and the cases have tests of their own (test_docs, test_cases). Here it is all
the others: in blocks, in lines set in, and between backticks where more than a name stands there. A word in capitals
stands for something of the reader's own; :data:`OWN` says what is put there. :data:`NOT_TYPED` says which commands are
only looked at, and why.
"""

from __future__ import annotations

import json
import re
import shlex
import shutil
from pathlib import Path

import pytest

from asfound.cli import DONE, NO
from asfound.cli.door import build

ROOT = Path(__file__).parents[2]
ELSEWHERE = {"commands.md", "cases.md", "tutorial.md", "tour.md", "tour_engines.md"}
PAGES = [one for one in sorted([*(ROOT / "docs").rglob("*.md"), ROOT / "README.md"]) if one.name not in ELSEWHERE]

OWN = {
    "FILE": "observations.yaml",
    "FOLDER": "new_folder",
    "HOME": "new_home",
    "NEW": "restored",
    "VISIT": "A2",
    "ENGINE": "A2",
    "SLOT": "ignition_unit",
    "KEY": "iso_6976",
    "MAP": "map.yaml",
    "NAME": "scanner",
    "WORKSHEET": "platinum_100",
}
OF_A_COMMAND = {"emission-test": {"FILE": "runs.yaml"}}
OF_A_PAGE = {
    "catalogue.md": {"FOLDER": str(ROOT / "src/asfound/fitout/data/ebbingstoke")},
    "history_import.md": {"FILE": "scanner.csv"},
    "upkeep.md": {"FILE": str(ROOT / "src/asfound/upkeep/data/spares.yaml")},
}
NOT_TYPED = {
    "serve": "runs until it is stopped (tests/cli/test_serve.py)",
    "office": "runs until it is stopped (tests/web/test_office.py)",
    "move-home": "wants a server (tests/records/test_postgres.py)",
    "people": "wants an office (tests/cli/test_several.py)",
    "demo-logs": "writes 200 MB (tests/cli/test_demo_logs.py)",
    "ahead": "makes the pages of a whole home (tests/cli/test_ahead.py)",
    "log-follow": "runs until it is stopped (tests/cli/test_log_follow.py)",
    "home-lock": "asks for a passphrase at the terminal (tests/records/test_lock.py)",
    "home-unlock": "asks for a passphrase at the terminal",
    "home-passphrase": "asks for a passphrase at the terminal",
    "restore": "wants the backup of the line before (tests/cli/test_several.py)",
    "locked": "wants a locked bundle (tests/records/test_lock.py)",
    "completion": "asks for a shell that is there (tests/cli/test_door.py)",
    "log-visits": "wants months of a log on both sides of a visit (tests/records/test_logs.py)",
    "prove": "typed by tests/sources/test_prove.py",
}


BEGINS_A_FILE = {"asfound bundle 1", "asfound locked bundle 1"}
"""First lines of files, which a page names in backticks."""

NOT_HERE = {"--logs", "--lock", "--clock", "ENTRY", "charge_compression", "name=value"}
"""Minutes of work; a passphrase; another logger; an entry, a worksheet and values that own hands made before."""


def commands_on(page: Path) -> list[str]:
    """Return the commands of a page in their order, as a person would copy them, and names of commands."""
    found = []
    for line in page.read_text(encoding="utf-8").splitlines():
        alone = re.match(r"(?:    )?(asfound .*)", line)
        if alone and page.name != "README.md":
            found.append(re.split(r"\s{2,}|\s#\s", alone[1])[0].removesuffix("\\").strip())
        elif not alone:
            found += re.findall(r"`(asfound [^`]+)`", line)
    return [one for one in found if one not in BEGINS_A_FILE]


def path_of(words: list[str]) -> int:
    """Return how many words name the command; the rest is what is given to it."""
    app, depth = build(), 0
    while depth < len(words) and not words[depth].startswith("-") and words[depth] in [*app]:
        app, depth = app[words[depth]], depth + 1
    return depth


def typed_on(page: Path) -> list[str]:
    """Return what of :func:`commands_on` is more than the name of a command."""
    return [one for one in commands_on(page) if len(words_of(one, page.name)) > path_of(words_of(one, page.name))]


def words_of(line: str, page: str) -> list[str]:
    """Return the words to type: redirections and pipes off, what may be left out put in, own words filled in."""
    line = re.sub(r"\s[>|].*", "", line).replace("[", "").replace("]", "").replace(" ...", "")
    words = shlex.split(line.replace("/media/stick", "stick"))[1:]
    own = OWN | OF_A_PAGE.get(page, {}) | OF_A_COMMAND.get(words[0], {})
    return [own.get(word, word) for word in words]


REAL = sorted({(page, line) for page in PAGES for line in commands_on(page)}, key=str)


@pytest.mark.parametrize(("page", "line"), REAL, ids=lambda one: one if isinstance(one, str) else one.name)
def test_the_command_and_its_options_are_there(page, line):
    words = words_of(line, page.name)
    assert path_of(words) > 0, f"no command: {line}"
    help_page = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    for option in (word.split("=")[0] for word in words if word.startswith("--")):
        assert re.search(rf"^  {option}\b", help_page, re.M), f"{option} is no option of any command: {line}"


REPORT = """Sampled 2 May 2032
Component  Mol %
Methane    91.20
Ethane      4.60
Propane     1.55
C6+         0.70
Nitrogen    1.05
CO2         0.90
"""
FILES = {
    "report.txt": REPORT,
    "new_well.csv": "component,mol %\nmethane,81.4\nethane,9.1\npropane,5.0\nnitrogen,2.5\ncarbon dioxide,2.0\n",
    "chromatograph.csv": "time,methane,ethane,nitrogen\n2032-05-02 09:00,94,4,2\n2032-05-02 09:04,93,5,2\n",
    "scanner.csv": "Time,Speed [rpm],Jacket Water [degF]\n"
    + "".join(
        f"2032-03-{day:02d} {hour:02d}:00,{900 + hour % 5},{178 + hour % 4}\n"
        for day in range(1, 4)
        for hour in range(24)
    ),
    "bus.log": "(1436509052.249713) can0 18FECB21#04FF64000305FFFF\n",
    "draft.yaml": "symptoms: []\n",
    "runs.yaml": json.dumps(
        {
            "gases": {
                "co": {"method": "10", "span": 500, "upscale_gas": 250, "direct": [[0, 0.5], [250, 251], [500, 499]]}
            },
            "runs": [
                {
                    "start": "2032-05-02T09:00+00:00",
                    "end": "2032-05-02T10:00+00:00",
                    "gases": {"co": {"average": 198, "zero": [1.0, 2.5], "upscale": [246, 249]}},
                }
            ],
        }
    ),
    "observations.yaml": "engine: {tag: A2, family: HM9, driven: compressor, layout: inline, cylinders: 9,"
    " catalyst: false, state: running}\nlooks:\n- {slot: nameplate, character: rivets, states: [new], how: at_part}\n",
}


@pytest.fixture(scope="module")
def one_demo(tmp_path_factory):
    from asfound.cli import main

    folder = tmp_path_factory.mktemp("typed") / "home"
    assert main(["demo", str(folder), "--json"]) == 0
    return folder


@pytest.mark.parametrize("page", [one for one in PAGES if typed_on(one)], ids=lambda path: str(path.relative_to(ROOT)))
def test_what_a_page_shows_can_be_typed(page, asfound, one_demo, tmp_path, monkeypatch):
    home = shutil.copytree(one_demo, tmp_path / "home")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "scanner").mkdir()
    for name, text in FILES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    shutil.copy(tmp_path / "scanner.csv", tmp_path / "scanner" / "a.csv")
    refused = []
    for line in typed_on(page):
        words = words_of(line, page.name)
        if words[0] in NOT_TYPED or NOT_HERE & set(words):
            continue
        monkeypatch.setenv("ASFOUND_HOME", str(home))
        monkeypatch.setenv("ASFOUND_WHO", "J. Orme")
        words = [str(one) for word in words for one in (sorted(tmp_path.glob(word)) if "*" in word else [word])]
        said = asfound(*words)
        if said.code not in (DONE, NO):
            refused.append(f"{line}\n    {said.err}")
    assert refused == []


@pytest.mark.parametrize("page", ["crosscheck", "exhaust", "fuel", "power"])
def test_the_python_of_a_page_runs_and_prints_what_stands_beside_it(page, capsys):
    """Blocks of one page share their names. Behind a ``print`` the first number of the comment is what comes out."""
    text = (ROOT / "docs" / f"{page}.md").read_text(encoding="utf-8")
    names: dict[str, object] = {}
    for block in re.findall(r"```python\n(.*?)```", text, re.DOTALL):
        capsys.readouterr()
        exec(block, names)
        out = [float(one) for one in re.findall(r"-?\d+\.?\d*(?:e-?\d+)?", capsys.readouterr().out)]
        for said in re.findall(
            r"^(?:print\(.*|\))  # (?:corrected [a-z -]+: )?(-?\d+\.\d+)(e\d)?", block, re.MULTILINE
        ):
            wanted = float("".join(said))
            digits = len(said[0].split(".")[1])
            assert any(abs(one - wanted) <= 0.51 * 10.0 ** (int(said[1][1:] or 0) - digits) for one in out), wanted
