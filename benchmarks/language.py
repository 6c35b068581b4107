"""How much of what the demo says is found in the catalogue: pages, findings, papers. And what telling costs.

    python -m benchmarks.language                 the share for each language, as translated now
    python -m benchmarks.language --patterns      the share that is *found* (a pattern is there, translated or not)
    python -m benchmarks.language --missing N     the N texts met most often that are not found
    python -m benchmarks.language --by-page de    every text that is not told whole, by page; without what a person
                                                  typed, sources and the rows of general rules, which stay
    python -m benchmarks.language --seen FILE     write which messages were used (what is translated first)

Speed is a ratio taken in one run: told against one f-string with the same parts.
"""

from __future__ import annotations

import argparse
import json
import re
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from time import perf_counter
from typing import Any

from babel.messages.pofile import read_po

from asfound import language
from asfound.language import Reader, catalogues, reading_as, telling

POT = Path(catalogues.__file__).with_name("asfound.pot")
PROSE = re.compile(r"(?<![\w./@-])[A-Za-z]?[a-z]{2,}(?![\w./@-])")


def identity() -> dict[str, str]:
    """Return every message as its own translation."""
    with POT.open("rb") as stream:
        return {str(one.id): str(one.id) for one in read_po(stream) if one.id}


LINK = re.compile(r'href="(/[^"#]*)"')
NO_PAGE = re.compile(
    r"\.(?:pdf|csv|ics|json|zip|yaml|crt|webmanifest|png|svg|css|js)|^/(?:static|photos|api|prove|sources)|/demo/|back="
)
MOST_PAGES = 160


def crawl(client: Any) -> Iterator[tuple[str, Any]]:
    """Yield each page of the demo that a link leads to, with its answer; of alike pages a few."""
    waiting, seen = ["/", "/settings", "/find?q=oxygen", "/waiting", "/people", "/settle", "/take-in"], set()
    alike: Counter[str] = Counter()
    while waiting and len(seen) < MOST_PAGES:
        address = waiting.pop(0)
        if address in seen:
            continue
        seen.add(address)
        answer = client.get(address)
        yield address, answer
        for link in LINK.findall(answer.text):
            link = link.replace("&amp;", "&")
            kind = re.sub(r"\?.*|(?<=/reading/).*|(?<=/slots/).*|(?<=/worksheets/).*|(?<=/families/).*", "", link)
            if link not in seen and not NO_PAGE.search(link) and alike[kind] < 4:
                alike[kind] += 1
                waiting.append(link)


class Listener:
    """Notes what a teller is asked."""

    def __init__(self) -> None:
        self.met: Counter[str] = Counter()
        self.missing: Counter[str] = Counter()
        self.used: set[str] = set()
        self.page = ""
        self.where: dict[str, str] = {}
        """The first page on which a text that is not told whole was met."""


SOURCE = re.compile(
    r"CFR|ISO \d|IEC \d|EN \d|NFPA|OSHA|NIOSH|GPSA|ASME|AGA|SAE|VDI"
    r"|text as of|secondary|from memory|unverified|edition|clause"
)
"""A source, or what is said of one: never translated."""


def typed_in(records: Any) -> str:
    """Return all that people typed, one text a line."""
    said: list[str] = []

    def take(value: Any) -> None:
        if isinstance(value, str):
            said.append(" ".join(value.split()))
        elif isinstance(value, dict):
            for one in value.values():
                take(one)
        elif isinstance(value, (list, tuple)):
            for one in value:
                take(one)

    for entry in records.entries():
        take(dict(entry.content))
    return "\n".join(said)


def left_by_page(found: Listener, typed: str) -> dict[str, list[str]]:
    """Return the program's own texts that were not told whole, by the page where they were met first."""
    pages: dict[str, list[str]] = {}
    for text in found.missing:
        core = " ".join(text.split())
        if core in typed or core.strip(" .…") in typed or SOURCE.search(core) or found.where[text].endswith("/rules"):
            continue
        pages.setdefault(found.where[text], []).append(core)
    return pages


def look(home: Path, *, catalogue: dict[str, str] | None = None, name: str = "de", paper: bool = True) -> Listener:
    """Make every page and paper of a demo home for a reader, and note what was told."""
    from starlette.testclient import TestClient

    from asfound.records.store import Records
    from asfound.records.visit import view
    from asfound.web import pages, speaking
    from asfound.web.app import create_app

    found = Listener()
    taken = catalogue if catalogue is not None else dict(catalogues.messages(name))

    class Noting(dict):  # type: ignore[type-arg]
        def get(self, key: str, default: Any = None) -> Any:
            if key in self:
                found.used.add(key)
            return super().get(key, default)

        def __getitem__(self, key: str) -> Any:
            found.used.add(key)
            return super().__getitem__(key)

    noting = Noting(taken)
    speaking.messages = telling.messages = lambda _name: noting  # type: ignore[assignment]
    telling._teller.cache_clear()
    pages.environment_in.cache_clear()
    before = telling.Teller.tell

    def tell(self: telling.Teller, text: str, depth: int = 0) -> tuple[str, bool]:
        said = before(self, text, depth)
        if depth == 0 and PROSE.search(text):
            found.met[text] += 1
            if not said[1]:
                found.missing[text] += 1
                found.where.setdefault(text, found.page)
        return said

    telling.Teller.tell = tell  # type: ignore[method-assign]
    try:
        records = Records.open(home)
        client = TestClient(
            create_app(records, debug=False), base_url="http://localhost", headers={"accept-language": name},
            raise_server_exceptions=False,
        )  # fmt: skip

        class Noted:
            """The client, with the page noted that is being made."""

            def get(self, address: str) -> Any:
                found.page = address
                return client.get(address)

        bad = [address for address, answer in crawl(Noted()) if answer.status_code >= 500]
        if bad:
            print("could not be shown:", *bad)
        if paper:
            from asfound.report import typeset

            with reading_as(Reader(name)):
                for one in records.visits():
                    found.page = f"papers of {one.name}"
                    typeset.visit_report(view(records, one.id), proof=False)
                    typeset.operator_sheet(view(records, one.id))
    finally:
        telling.Teller.tell = before  # type: ignore[method-assign]
        speaking.messages = telling.messages = catalogues.messages
        telling._teller.cache_clear()
        pages.environment_in.cache_clear()
    return found


def findings(home: Path) -> list[str]:
    """Return every sentence of every finding of the demo's visits."""
    from asfound.records.store import Records
    from asfound.records.visit import view

    records = Records.open(home)
    said = []
    for visit in records.visits():
        for one in view(records, visit.id).findings:
            said += [one.says, one.next_step, *([one.compared_with] if one.compared_with else [])]
    return said


def speed() -> str:
    """Return what telling a sentence costs the first time and again."""
    catalogue = identity()
    telling.messages = lambda _name: catalogue  # type: ignore[assignment]
    telling._teller.cache_clear()
    texts = [f"Cylinder L{i % 12 + 1} is {i}.5 K hotter than its bank, {i % 90} in 100." for i in range(400)]
    try:
        with reading_as(Reader("de")):
            language.told("as found")
            began = perf_counter()
            for text in texts:
                language.told(text)
            first = (perf_counter() - began) / len(texts)
            began = perf_counter()
            for text in texts:
                language.told(text)
            again = (perf_counter() - began) / len(texts)
    finally:
        telling.messages = catalogues.messages
        telling._teller.cache_clear()
    return f"a sentence of the rooms: {1e6 * first:.0f} us the first time, {1e6 * again:.2f} us again (ratio {first / again:.0f})"  # noqa: E501


def main() -> None:
    """Say the shares."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--patterns", action="store_true")
    asked.add_argument("--missing", type=int, default=0)
    asked.add_argument("--seen", type=Path)
    asked.add_argument("--home", type=Path)
    asked.add_argument("--by-page", choices=("de", "es"), default="")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        home = given.home or Path(folder) / "demo"
        if given.home is None:
            from asfound.records.demo import make_demo_home

            make_demo_home(home)
        if given.by_page:
            from asfound.records.store import Records

            found = look(home, name=given.by_page)
            pages = left_by_page(found, typed_in(Records.open(home)))
            for page, texts in sorted(pages.items()):
                print(page, *(f"   {text[:200]}" for text in texts), sep="\n")
            left = sum(map(len, pages.values()))
            print(f"{given.by_page}: {left} of {len(found.met)} different texts of the program are not told whole")
            return
        every = (
            [("patterns", identity())]
            if given.patterns or given.seen or given.missing
            else [(name, None) for name in ("de", "es")]
        )
        for name, catalogue in every:
            found = look(home, catalogue=catalogue, name="de" if catalogue else name)
            whole = dict(catalogue) if catalogue is not None else dict(catalogues.messages(name))
            telling.messages = lambda _name, whole=whole: whole  # type: ignore[assignment]
            telling._teller.cache_clear()
            with reading_as(Reader("de")):
                said = findings(home)
                unknown = [one for one in said if not language.known(one)]
            telling.messages = catalogues.messages
            telling._teller.cache_clear()
            texts, missed = len(found.met), len(found.missing)
            print(
                f"{name}: {texts - missed} of {texts} different texts at the doors are known ({100 * (1 - missed / max(texts, 1)):.1f} %)"  # noqa: E501
            )
            print(
                f"{name}: {len(said) - len(unknown)} of {len(said)} sentences of findings are known ({100 * (1 - len(unknown) / max(len(said), 1)):.1f} %)"  # noqa: E501
            )
            for text, count in found.missing.most_common(given.missing):
                print(f"   {count:4d}  {text[:300]!r}")
            if given.seen:
                given.seen.write_text(json.dumps(sorted(found.used), ensure_ascii=False, indent=0), encoding="utf-8")
                Path(f"{given.seen}.missing").write_text(
                    "\n".join(f"{n}\t{t}" for t, n in found.missing.most_common()), encoding="utf-8"
                )
                Path(f"{given.seen}.findings").write_text("\n".join(sorted(set(unknown))), encoding="utf-8")
    print(speed())


if __name__ == "__main__":
    main()
