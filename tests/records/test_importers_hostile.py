"""Every file that somebody may hand to the program, damaged or made to harm: a clear error or a success, nothing else.

Two ways. Files that are right are damaged at random: bytes lost, doubled, turned, and pieces put in that break readers
(numbers of ten thousand digits, deep nesting, aliases, quotes, NUL, halves of signs). And bombs, small files made to
use time or memory without bound, are given to each reader in a process of its own with a limit on memory.
"""

from __future__ import annotations

import io
import json
import signal
import subprocess
import sys
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from asfound.errors import AsFoundError
from asfound.sources.tables import package_folder

if TYPE_CHECKING:
    from collections.abc import Callable

pytestmark = pytest.mark.filterwarnings("ignore")  # readers of pictures warn of what is damaged; that is no fault
TOO_LONG = 60
"""A reader that is busy with a few kilobytes for so long is not going to end. [s]"""
PIECES = (
    b"\x00", b"\xff\xfe", b"\xed\xa0\x80", b"\xef\xbb\xbf", b"\r", b"\n\n", b"\t", b'"', b"'", b"`", b"#", b": ",
    b"- ", b"&a", b"*a", b"<<: *a", b"!!python/object/apply:os.system ['true']", b"!!binary x", b"%YAML 9.9\n",
    b"---\n", b"...\n", b"{", b"}", b"[", b"]", b"|", b">", b"~", b"? ", b"nan", b".nan", b"-.inf", b"1e999",
    b"-1e-999", b"0x" + b"f" * 40, b"9" * 10_000, b"0." + b"3" * 10_000, b"1_0", b"2032-13-45", b"12:30", b"007",
    b"[" * 200, b"{a: " * 200, b"(" * 500, b"a" * 20_000, b",," * 500, b";" * 500, "½ ± µ ‰ 😀 \u202e".encode(),
    b"true", b"null", b"=1+1", b"<script>", b"../../../etc/passwd", b"%s%n", b"18FECA00#", b"\xc2",
)  # fmt: skip


# ---------------------------------------------------------------------- the readers


def _text(content: bytes) -> str:
    return content.decode("utf-8", errors="replace")


def _by_path(read: Callable[[Path], Any], name: str) -> Callable[[bytes, Path], Any]:
    def reader(content: bytes, folder: Path) -> Any:
        file = folder / name
        file.write_bytes(content)
        return read(file)

    return reader


def _catalogue(file: Path) -> Any:
    from asfound.fitout.catalogue import load_catalogue

    return load_catalogue(file)


def _upgrade(file: Path) -> Any:
    from asfound.fitout.catalogue import load_catalogue
    from asfound.upkeep.upgrade_file import read_upgrade

    return read_upgrade(file, load_catalogue())


def _case(file: Path) -> Any:
    from asfound.upkeep.case_inputs import read_case

    return read_case(file)


def _failures(file: Path) -> Any:
    from asfound.upkeep.failure_file import read_records

    found = read_records(file)
    return found.faults() if hasattr(found, "faults") else found


def _emission_test(file: Path) -> Any:
    from asfound.exhaust.test_run_files import read_test

    return read_test(file)


def _mapping(file: Path) -> Any:
    from asfound.history.mapping import Mapping

    return Mapping.load(file)


def _register_map(file: Path) -> Any:
    from asfound.history.register_map import load_map

    return load_map(file)


def _gas_file(file: Path) -> Any:
    from asfound.fuel.analysis_files import read_analysis

    return read_analysis(file)


def _gas_report(content: bytes, _folder: Path) -> Any:
    from asfound.fuel.laboratory_report import read_report

    return read_report(_text(content), basis="mole")


def _derating(content: bytes, _folder: Path) -> Any:
    from asfound.power.derating_file import read_derating

    return read_derating(_text(content), file="derate.yaml")


def _tasks(content: bytes, _folder: Path) -> Any:
    from asfound.upkeep.task_list import read_tasks

    return read_tasks(_text(content), file="tasks.yaml")


def _troubleshooting(content: bytes, _folder: Path) -> Any:
    from asfound.troubleshoot.generic import with_own

    return with_own((("troubleshooting.yaml", _text(content)),))


def _fault_names(content: bytes, _folder: Path) -> Any:
    from asfound.troubleshoot.fault_names import read_names

    return read_names(_text(content))


def _rules(content: bytes, _folder: Path) -> Any:
    from asfound.exhaust.limits_table import read_rules

    return read_rules(_text(content), file="limits.csv")


def _fault_log(content: bytes, _folder: Path) -> Any:
    from asfound.troubleshoot.bus_log import frames_of_file
    from asfound.troubleshoot.fault_codes import decode, only_faults

    text = frames_of_file(content, "bus.log")
    return decode(text), only_faults(text)


def _observations(content: bytes, _folder: Path) -> Any:
    from asfound.fitout.observations import parse_observations

    return parse_observations(_text(content))


def _photo(content: bytes, _folder: Path) -> Any:
    from asfound.web.photos import make_photo

    return make_photo(content, "a.jpg")


def _instrument(content: bytes, _folder: Path) -> Any:
    from asfound.cli.instruments import _claim

    return _claim("exhaust_oxygen_dry", _text(content))


def _record(content: bytes, folder: Path) -> Any:
    from asfound.records.export import take_over
    from asfound.records.store import Records

    with Records.open(folder / "home") as records:
        return take_over(records, content)


def _packaged(room: str, name: str) -> bytes:
    return Path(str(package_folder(f"asfound.{room}") / "data" / name)).read_bytes()


def _a_photo() -> bytes:
    out = io.BytesIO()
    image = Image.new("RGB", (64, 48), (90, 120, 60))
    exif = image.getexif()
    exif[0x0132] = "2032:07:08 10:26:00"
    exif[0x0112] = 6
    image.save(out, "JPEG", exif=exif)
    return out.getvalue()


GAS = b"Component\tmol %\nMethane\t94.1\nEthane\t3.2\nPropane\t0.8\nNitrogen\t1.2\nCO2\t0.7\nTotal\t100.0\n"
OWN_TROUBLE = b"""source: company, 2032
causes: []
"""
FAILURES = b"record,engine,began,cause\nF-1,A2,2032-01-04,wear\n"
NAMES = b"spn,fmi,title,meaning,source\n110,0,Jacket water,too hot,manual of the engine\n190,,Speed,,manual\n"
LOG = b"(1436509052.2) can0 18FECA00#11CD6102130021FF\ncan0 18FECA00 [8] 11 CD 61 02 13 00 00 FF\n"
TEST = b"rule: a rule\ngases: [{gas: nox, unit: ppm, span: 200}]\nruns: [{run: 1, gases: {nox: {average: 101}}}]\n"
MAPPING = b"source: panel\nbarometer: 1.01e5\ncolumns: [{head: T1, unit: C, quantity: jacket_water_temperature}]\n"
REGISTERS = b"host: 192.168.1.5\nport: 502\nregisters: [{head: P, table: holding, address: 100, type: float32}]\n"
OBSERVATIONS = b"engine: {tag: A2, family: HM9}\nlooks: [{slot: word, answer: seen, how: said, label: x}]\n"
RECORD = json.dumps({"form": 1, "name": "A2/2032-07-08", "entries": [], "context": [], "files": []}).encode()


def _locked_bundle(content: bytes, _: Path) -> Any:
    pytest.importorskip("cryptography")
    from asfound.records.bundle_locked import open_bundle

    return open_bundle(io.BytesIO(content), io.BytesIO(), "lantern gravel seven herons")


def _lock(content: bytes, folder: Path) -> Any:
    pytest.importorskip("cryptography")
    from asfound.records import lock

    (folder / lock.FILE).write_bytes(content)
    return lock.keys_of(folder, "lantern gravel seven herons")


def _a_lock(form: str) -> bytes:
    cost = b'"scrypt":{"n":1024,"r":8,"p":1,"salt":"AAAAAAAAAAAAAAAAAAAAAA=="}'
    if form == "bundle":
        return b'{"form":"asfound locked bundle 1",' + cost + b',"prefix":"AAAAAAAAAA==","part":1048576}\n' + bytes(99)
    return b'{"form":"asfound lock 1","id":"x",' + cost + b',"nonce":"AAAAAAAAAAAAAAAA","key":"' + b"A" * 64 + b'"}'


READERS: dict[str, tuple[Callable[[bytes, Path], Any], bytes, int]] = {
    "catalogue": (_by_path(_catalogue, "c.yaml"), _packaged("fitout", "ebbingstoke/1_engines.yaml"), 40),
    "derate file": (_derating, _packaged("power", "demo_derate.yaml"), 60),
    "tasks.yaml": (_tasks, _packaged("upkeep", "tasks.yaml"), 40),
    "upgrade.yaml": (_by_path(_upgrade, "u.yaml"), _packaged("upkeep", "upgrade_vorunice.yaml"), 40),
    "case.yaml": (_by_path(_case, "case.yaml"), _packaged("upkeep", "case_vorunice.yaml"), 40),
    "troubleshooting.yaml": (_troubleshooting, OWN_TROUBLE, 20),
    "limits.csv": (_rules, _packaged("exhaust", "limits_europe.csv"), 60),
    "fault_codes.csv": (_fault_names, NAMES, 100),
    "fault-code log": (_fault_log, LOG, 100),
    "laboratory report": (_gas_report, GAS, 100),
    "gas analysis, CSV": (_by_path(_gas_file, "gas.csv"), GAS, 60),
    "gas analysis, spreadsheet": (_by_path(_gas_file, "gas.xlsx"), b"PK\x03\x04" + bytes(200), 40),
    "emission test, YAML": (_by_path(_emission_test, "test.yaml"), TEST, 80),
    "emission test, CSV": (_by_path(_emission_test, "test.csv"), b"rule,x\ngas,unit\nnox,ppm\nrun,gas\n1,nox\n", 60),
    "failures, CSV": (_by_path(_failures, "f.csv"), FAILURES, 60),
    "failures, YAML": (_by_path(_failures, "f.yaml"), b"failures: [{record: F-1}]\nworks: []\n", 60),
    "mapping of a log": (_by_path(_mapping, "m.yaml"), MAPPING, 80),
    "map of registers": (_by_path(_register_map, "r.yaml"), REGISTERS, 80),
    "observations": (_observations, OBSERVATIONS, 60),
    "claim of an instrument": (_instrument, b"5 % of reading; 5 ppm; step 1 ppm", 100),
    "photo": (_photo, _a_photo(), 100),
    "record of a visit": (_record, RECORD, 15),
    "locked bundle": (_locked_bundle, _a_lock("bundle"), 100),
    "lock of a home": (_lock, _a_lock("home"), 100),
}


# ---------------------------------------------------------------------- damage

PLACE = st.floats(0, 1, allow_nan=False)
CHANGE = st.one_of(
    st.tuples(st.just("put"), PLACE, st.sampled_from(PIECES)),
    st.tuples(st.just("lose"), PLACE, st.integers(1, 200)),
    st.tuples(st.just("turn"), PLACE, st.integers(1, 255)),
    st.tuples(st.just("double"), PLACE, st.integers(1, 400)),
    st.tuples(st.just("end"), PLACE, st.none()),
)
CHANGES = st.one_of(st.lists(CHANGE, min_size=1, max_size=6), st.binary(max_size=400))


def damaged(seed: bytes, changes: Any) -> bytes:
    if isinstance(changes, bytes):
        return changes
    for what, share, detail in changes:
        at = int(share * len(seed))
        if what == "put":
            seed = seed[:at] + detail + seed[at:]
        elif what == "lose":
            seed = seed[:at] + seed[at + detail :]
        elif what == "turn":
            seed = seed[:at] + bytes(one ^ detail for one in seed[at : at + 1]) + seed[at + 1 :]
        elif what == "double":
            seed = seed[: at + detail] + seed[at : at + detail] + seed[at + detail :]
        else:
            seed = seed[:at]
    return seed


class _Endless(BaseException):
    """A reader did not come back."""


def _stop(*_: object) -> None:
    raise _Endless


def tried(reader: Callable[[bytes, Path], Any], content: bytes, folder: Path) -> None:
    """Read; an error of our own says what is wrong in words, and any other is a fault."""
    guarded = hasattr(signal, "SIGALRM")
    if guarded:
        signal.signal(signal.SIGALRM, _stop)
        signal.alarm(TOO_LONG)
    try:
        reader(content, folder)
    except AsFoundError as refused:
        said = str(refused)
        assert 10 < len(said) < 5_000, said[:200]
    finally:
        if guarded:
            signal.alarm(0)


@pytest.mark.parametrize("name", READERS)
def test_a_damaged_file_is_read_or_refused_in_words(name, tmp_path_factory):
    reader, seed, most = READERS[name]
    folder = tmp_path_factory.mktemp("hostile")

    @settings(max_examples=most, deadline=None, suppress_health_check=list(HealthCheck), database=None)
    @given(changes=CHANGES)
    def damage(changes: Any) -> None:
        tried(reader, damaged(seed, changes), folder)

    damage()


@pytest.mark.parametrize("name", READERS)
@pytest.mark.parametrize("piece", [b"", b"\n", b"null", b"[]", b"{}", b"0", b"a: b", b"\xff" * 50, b"\x00" * 50])
def test_a_file_of_another_kind_is_refused_in_words(name, piece, tmp_path):
    tried(READERS[name][0], piece, tmp_path)


# ---------------------------------------------------------------------- bombs


def _laughs() -> bytes:
    lines = ["a0: &a0 [lol, lol, lol, lol, lol, lol, lol, lol, lol]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 12)]
    return "\n".join(lines).encode()


def _huge_picture() -> bytes:
    """A PNG that says it is 60,000 by 60,000 pixels."""

    def part(kind: bytes, data: bytes) -> bytes:
        return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")

    head = (60_000).to_bytes(4, "big") * 2 + bytes([8, 2, 0, 0, 0])
    return b"\x89PNG\r\n\x1a\n" + part(b"IHDR", head) + part(b"IDAT", zlib.compress(bytes(1_000))) + part(b"IEND", b"")


def _spreadsheet_bomb() -> bytes:
    import zipfile

    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("xl/workbook.xml", b"<x>" + b" " * 300_000_000)
    return out.getvalue()


BOMBS: dict[str, Callable[[], bytes]] = {
    "billion laughs": _laughs,
    "one mapping deep": lambda: b"{a: " * 100_000,
    "one list deep": lambda: b"a: " + b"[" * 200_000,
    "block deep": lambda: b"\n".join(b" " * n + b"a:" for n in range(1_500)),
    "flow keys": lambda: b"? " * 50_000,
    "a number without end": lambda: b"a: " + b"9" * 3_000_000,
    "digits behind the point": lambda: b"Methane 0." + b"1" * 3_000_000 + b"\n",
    "an exponent": lambda: b"a: 1e" + b"9" * 1_000_000,
    "one line": lambda: b"x" * 6_000_000,
    "columns without end": lambda: b"spn," * 1_500_000,
    "an open quote": lambda: b'spn,fmi,title,meaning,source\n1,2,"' + b"x\n" * 2_000_000,
    "brackets for a pattern": lambda: b"(" * 100_000 + b"a" * 100_000 + b")" * 100_000,
    "blanks for a pattern": lambda: b" " * 200_000 + b"\t" * 200_000 + b"x",
    "digits and blanks": lambda: b"1 1 " * 200_000,
    "deep JSON": lambda: b'{"a":' * 200_000,
    "huge picture": _huge_picture,
}
MEMORY = 3 << 30
"""Address space that a reader may have, its libraries with it. [byte]"""
ALONE = """
import importlib.util, resource, sys
from pathlib import Path
resource.setrlimit(resource.RLIMIT_AS, ({memory}, {memory}))
spec = importlib.util.spec_from_file_location("hostile", {file!r})
hostile = importlib.util.module_from_spec(spec)
spec.loader.exec_module(hostile)
content = Path({content!r}).read_bytes()
wrong = []
for name in hostile.READERS:
    try:
        hostile.tried(hostile.READERS[name][0], content, Path({folder!r}))
    except BaseException as fault:
        wrong.append(f"{{name}}: {{type(fault).__name__}} {{str(fault)[:200]}}")
print("\\n".join(wrong))
sys.exit(bool(wrong))
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no limit on memory there")
@pytest.mark.parametrize("bomb", BOMBS)
def test_a_bomb_is_refused_within_bounds(bomb, tmp_path):
    file = tmp_path / "bomb"
    file.write_bytes(BOMBS[bomb]())
    code = ALONE.format(memory=MEMORY, file=str(Path(__file__)), content=str(file), folder=str(tmp_path))
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=600, check=False)
    assert said.returncode == 0, f"{said.returncode}: {said.stdout}{said.stderr[-1500:]}"


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no limit on memory there")
def test_a_spreadsheet_that_unpacks_without_bound_is_refused(tmp_path):
    file = tmp_path / "bomb"
    file.write_bytes(_spreadsheet_bomb())
    code = ALONE.format(memory=MEMORY, file=str(Path(__file__)), content=str(file), folder=str(tmp_path))
    code = code.replace("in hostile.READERS:", "in ['gas analysis, spreadsheet', 'photo', 'catalogue']:")
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=600, check=False)
    assert said.returncode == 0, f"{said.returncode}: {said.stdout}{said.stderr[-1500:]}"
