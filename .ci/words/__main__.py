"""The words of the program and their translations.

    python .ci/words extract           write src/asfound/language/asfound.pot, and bring the .po files up to it
    python .ci/words parts FOLDER      write what is still untranslated as FOLDER/<language>_<n>.po, most wanted first
    python .ci/words merge FOLDER      take the parts back into the .po files; a message whose places differ is refused
    python .ci/words lint FILE ...     look at parts: places, line ends, what is still empty; writes nothing
    python .ci/words compile           write the .mo files that the program reads
    python .ci/words check             1 if a message has other places than its translation, is fuzzy, a .mo is old, or
                                       the .pot is far behind the program

Babel reads and writes the catalogues; our own extractors find the words (no marks are needed in the code).
"""

from __future__ import annotations

import io
import json
import re
import sys
from collections import Counter
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
sys.path[:0] = [str(HERE), str(ROOT / "src")]

import data_words  # noqa: E402
import python_words  # noqa: E402
import template_words  # noqa: E402

from asfound.language.scripts import messages as script_messages  # noqa: E402

PACKAGE = ROOT / "src" / "asfound"
WORDS = PACKAGE / "language"
POT = WORDS / "asfound.pot"
SEEN = HERE / "seen.json"
"""Which messages the pages and papers of the demo used: what is translated first."""
LANGUAGES = ("de", "es")
IN_A_PART = 400
BEHIND = 0.03
"""So far may the template of catalogues be behind the program before `check` calls it wrong."""
_PLACES = re.compile(r"\{\d+\}|</?\d+/?>")

NO_ROOM = {"cli", "language", "sources"}
NO_DATA = re.compile(
    r"sources\.yaml|published_|/demo|stories/|failure_words|channel_examples|component_names|/units\.csv|column_quantities|concepts\.csv|firing_orders"
)
DATA_ROOMS = {
    "sources",
    "quantities",
    "fitout",
    "crosscheck",
    "cylinders",
    "troubleshoot",
    "upkeep",
    "history",
    "exhaust",
    "records",
    "power",
    "whatif",
    "fuel",
}


def sources() -> list[tuple[str, object, Path]]:
    """Return each file with its extractor and place in the order of translation (1 first)."""
    found: list[tuple[str, object, Path]] = []
    for path in sorted(PACKAGE.rglob("*")):
        where = path.relative_to(PACKAGE).as_posix()
        room = where.split("/")[0]
        if path.suffix == ".html" and room == "web":
            found.append(("1", template_words.page, path))
        elif path.suffix == ".typ":
            found.append(("2", template_words.sheet, path))
        elif (
            path.suffix == ".py"
            and "/" in where
            and room not in NO_ROOM
            and "/checks" not in where
            and "migrations" not in where
        ):
            if where in {"web/openapi.py", "records/schema.py", "records/tables.py"} or where.startswith(
                ("web/api", "history/demo/", "records/demo")
            ):
                continue
            found.append(("1" if room == "web" else "2" if room == "report" else "4", python_words.extract, path))
        elif (
            path.suffix in {".csv", ".yaml"} and room in DATA_ROOMS and "/data/" in where and not NO_DATA.search(where)
        ):
            extractor = data_words.table if path.suffix == ".csv" else data_words.knowledge
            found.append(("3", extractor, path))
    return found


def catalogue() -> Catalog:
    """Return all messages, in the order in which they are wanted."""
    made = new_catalogue()
    for line in (HERE / "extra.txt").read_text("utf-8").splitlines():
        if line and not line.startswith("#"):
            made.add(line.strip('"'), locations=[(".ci/words/extra.txt", 1)])
    for said in script_messages():
        made.add(said.strip(), locations=[("src/asfound/web/static", None)])
    for _, extractor, path in sorted(sources(), key=lambda one: (one[0], str(one[2]))):
        name = path.relative_to(ROOT).as_posix()
        for _line, text, comments, _context in extract(extractor, io.BytesIO(path.read_bytes())):
            if isinstance(text, str) and text and text.strip():
                known = made.get(text)
                if known is None or len(known.locations) < 3:
                    made.add(text, locations=[(name, None)], auto_comments=comments)
    return made


def new_catalogue(language: str | None = None) -> Catalog:
    """Return an empty catalogue with our heading."""
    made = Catalog(locale=language, project="asfound", version="1", charset="utf-8", fuzzy=False, domain="asfound",
                   header_comment="# What asfound says.", copyright_holder="", msgid_bugs_address="", last_translator="", language_team="")  # fmt: skip
    return made


def write(path: Path, made: Catalog) -> None:
    """Write a catalogue without times: the same words give the same file."""
    out = io.BytesIO()
    write_po(out, made, width=0, omit_header=False, include_lineno=False, sort_output=False)
    text = re.sub(
        r'"(?:POT-Creation-Date|PO-Revision-Date|Generated-By|Report-Msgid-Bugs-To|Last-Translator|Language-Team):.*\n',
        "",
        out.getvalue().decode("utf-8"),
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


def po(language: str) -> Path:
    """Return the file of a language."""
    return WORDS / language / "LC_MESSAGES" / "asfound.po"


def read(path: Path, language: str | None = None) -> Catalog:
    """Read a catalogue; an empty one where there is none."""
    if not path.exists():
        return new_catalogue(language)
    with path.open("rb") as stream:
        return read_po(stream, locale=language, domain="asfound")


def texts(made: Catalog) -> dict[str, str]:
    """Return message and translation of all that have one."""
    return {str(one.id): str(one.string) for one in made if one.id and one.string}


def extract_all() -> None:
    """Write the template of catalogues and bring each language up to it; what is gone goes from the files as well."""
    made = catalogue()
    write(POT, made)
    for language in LANGUAGES:
        old = texts(read(po(language), language))
        new = new_catalogue(language)
        for one in made:
            if one.id:
                new.add(one.id, old.get(str(one.id), ""), locations=one.locations, auto_comments=one.auto_comments)
        write(po(language), new)
        done = sum(1 for one in new if one.id and one.string)
        print(f"{language}: {done} of {len(new)} messages are translated")


def order() -> list[str]:
    """Return the messages, those that the demo's pages and papers use first."""
    seen = json.loads(SEEN.read_text("utf-8")) if SEEN.exists() else {}
    rank: dict[str, tuple[int, int]] = {}
    for i, one in enumerate(read(POT)):
        if one.id:
            where = one.locations[0][0] if one.locations else ""
            group = (
                1
                if where.endswith(("extra.txt", ".html")) or "/web/" in where
                else 2
                if "/report/" in where
                else 3
                if "/data/" in where
                else 4
            )
            rank[str(one.id)] = (group if group < 3 or str(one.id) in seen else group + 2, i)
    return sorted(rank, key=lambda name: rank[name])


def parts(folder: Path) -> None:
    """Write what is still open in parts of a size that one person translates at a sitting."""
    folder.mkdir(parents=True, exist_ok=True)
    comments = {str(one.id): (one.auto_comments, one.locations) for one in read(POT) if one.id}
    for language in LANGUAGES:
        done = texts(read(po(language), language))
        there = sorted(folder.glob(f"{language}_*.po"))
        given_out = {str(one.id) for path in there for one in read(path, language) if one.id}
        left = [name for name in order() if name not in done and name not in given_out]
        for number in range(0, len(left), IN_A_PART):
            made = new_catalogue(language)
            for name in left[number : number + IN_A_PART]:
                made.add(name, "", locations=comments[name][1][:1], auto_comments=comments[name][0])
            write(folder / f"{language}_{len(there) + number // IN_A_PART + 1}.po", made)
        print(f"{language}: {len(left)} messages in {-(-len(left) // IN_A_PART)} parts")


def fault(message: Message) -> str:
    """Return what is wrong with a translation; empty where nothing is."""
    source, said = str(message.id), str(message.string)
    if message.fuzzy:
        return "is marked fuzzy"
    if Counter(_PLACES.findall(source)) != Counter(_PLACES.findall(said)):
        return f"has places {' '.join(sorted(_PLACES.findall(said))) or 'none'}, wanted {' '.join(sorted(_PLACES.findall(source)))}"
    if "\n" in said and "\n" not in source:
        return "has a line end"
    return ""


def merge(folder: Path) -> int:
    """Take translated parts into the catalogues."""
    wrong = 0
    for language in LANGUAGES:
        whole = read(po(language), language)
        taken = 0
        for path in sorted(folder.glob(f"{language}_*.po")):
            try:
                part = read(path, language)
            except Exception as broken:
                wrong += 1
                print(f"{path.name}: cannot be read: {broken}")
                continue
            for one in part:
                mine = whole.get(one.id) if one.id else None
                if mine is None or not one.string:
                    continue
                said = fault(one)
                if said:
                    wrong += 1
                    print(f"{path.name}: {one.id!r} -> {one.string!r} {said}")
                else:
                    mine.string = " ".join(one.string.split(" ")).strip() if one.id == one.id.strip() else one.string
                    taken += 1
        write(po(language), whole)
        print(
            f"{language}: {taken} taken, {sum(1 for one in whole if one.id and one.string)} of {len(whole)} translated"
        )
    compile_all()
    return wrong


def lint(path: Path) -> int:
    """Say what is wrong in one part."""
    made = read(path)
    wrong = [(one, fault(one)) for one in made if one.id and one.string and fault(one)]
    for one, said in wrong:
        print(f"{path.name}: {one.id!r} -> {one.string!r} {said}")
    filled = sum(1 for one in made if one.id and one.string)
    print(f"{path.name}: {filled} of {len(made)} filled, {len(wrong)} wrong")
    return len(wrong)


def compile_all() -> None:
    """Write the compiled catalogues; English has itself, so that numbers and dates in its sentences are found."""
    pot = read(POT)
    english = new_catalogue("en")
    for one in pot:
        if one.id and "{" in str(one.id):
            english.add(one.id, str(one.id))
    for language, made in [("en", english), *((name, read(po(name), name)) for name in LANGUAGES)]:
        path = WORDS / language / "LC_MESSAGES" / "asfound.mo"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(compiled(made))


def compiled(made: Catalog) -> bytes:
    """Return a compiled catalogue; its heading holds no time."""
    lean = new_catalogue(str(made.locale) if made.locale else None)
    for one in made:
        if one.id and one.string:
            lean.add(one.id, one.string)
    out = io.BytesIO()
    write_mo(out, lean)
    data = out.getvalue()
    for name in (b"POT-Creation-Date", b"PO-Revision-Date"):
        data = re.sub(name + rb": [^\n]*", lambda found: name + b": " + b"-" * (len(found[0]) - len(name) - 2), data)  # noqa: B023
    return data


def check() -> int:
    """Say what is wrong; 0 where nothing is."""
    wrong = 0
    found = {str(one.id) for one in catalogue() if one.id}
    written = {str(one.id) for one in read(POT) if one.id}
    if found != written:
        wrong += len(found ^ written) > BEHIND * len(written)
        print(
            f"asfound.pot is not as it would be written: {len(found - written)} new, {len(written - found)} gone. Run: python .ci/words extract"
        )
    for language in LANGUAGES:
        made = read(po(language), language)
        for one in made:
            if one.id and one.string and (said := fault(one)):
                wrong += 1
                print(f"{language}: {one.id!r} {said}")
        mo = WORDS / language / "LC_MESSAGES" / "asfound.mo"
        if not mo.exists() or mo.read_bytes() != compiled(made):
            wrong += 1
            print(f"{language}: the compiled catalogue is old. Run: python .ci/words compile")
    return wrong


def main(arguments: list[str]) -> int:
    """Do what is asked for."""
    match arguments:
        case ["extract"]:
            extract_all()
            compile_all()
        case ["parts", folder]:
            parts(Path(folder))
        case ["merge", folder]:
            return min(merge(Path(folder)), 1)
        case ["lint", *files] if files:
            return min(sum(lint(Path(one)) for one in files), 1)
        case ["compile"]:
            compile_all()
        case ["check"]:
            return min(check(), 1)
        case _:
            print(__doc__)
            return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
