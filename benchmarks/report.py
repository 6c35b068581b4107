"""How long the sheets of a visit take: what stands in them, and setting them, each visit set for the first time.

Run with ``python benchmarks/report.py``; the visits are those of the tests of the report.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))


def main() -> None:
    """Print one line per visit."""
    from tests.report import story

    from asfound.report.content import report_content
    from asfound.report.drawing import engine_drawing
    from asfound.report.of_visit import drawing_of
    from asfound.report.typeset import typeset, visit_report

    with tempfile.TemporaryDirectory() as folder:
        views = {
            name: make(Path(folder) / name)
            for name, make in (
                ("empty", story.empty),
                ("a2", story.a2),
                ("many", story.many),
                ("hostile", story.hostile),
            )
        }
        visit_report(views["empty"], proof=False)  # loads the typesetter and its faces
        print(f"{'visit':10}{'results':>9}{'content ms':>12}{'setting ms':>12}{'of it CPU':>11}{'kB':>7}")
        for name in ("a2", "many", "hostile"):
            began = time.perf_counter()
            content = report_content(views[name], proof=False) | {
                "title": name,
                "attach": True,
                "full": True,
                "before": None,
            }
            middle, cpu = time.perf_counter(), time.process_time()
            pdf = typeset("visit.typ", content, {"record.json": b"{}"})
            end, cpu = time.perf_counter(), time.process_time() - cpu
            print(
                f"{name:10}{len(views[name].worked.results):9}{1e3 * (middle - began):12.0f}"
                f"{1e3 * (end - middle):12.0f}{1e3 * cpu:11.0f}{len(pdf) / 1e3:7.0f}"
            )
        _readers(Path(folder) / "demo")
        drawing, tags = drawing_of(views["a2"])
        began = time.perf_counter()
        for _ in range(100):
            engine_drawing(drawing, tags=tags)
        print(f"drawing of an engine with {len(tags)} tags: {1e3 * (time.perf_counter() - began) / 100:.1f} ms")


def _readers(folder: Path) -> None:
    """Print the demo's fullest visit: the report as it is read and in full, and the document of each reader."""
    import io

    from pypdf import PdfReader

    from asfound.records.demo import make_demo_home
    from asfound.records.store import Records
    from asfound.records.visit import view
    from asfound.report.readers import NAMES, document
    from asfound.report.readers.files import write
    from asfound.report.typeset import visit_report

    make_demo_home(folder)
    with Records.open(folder) as records:
        seen = view(records, "A2/2032-07-08")
        visit_report(seen)  # recomputes the published values, once while the program runs

        def of_reader(name: str) -> bytes:
            return write(document(records, seen, name), "pdf")

        papers: dict[str, Callable[[], bytes]] = {
            "report, as it is read": partial(visit_report, seen, full=False),
            "report, in full": partial(visit_report, seen),
            **{f"for {name}": partial(of_reader, name) for name in NAMES},
        }
        print(f"{'demo A2':24}{'sheets':>8}{'ms':>7}{'of it CPU':>11}{'kB':>7}")
        for title, make in papers.items():
            make()
            began, cpu = time.perf_counter(), time.process_time()
            pdf = make()
            end, cpu = time.perf_counter(), time.process_time() - cpu
            sheets = len(PdfReader(io.BytesIO(pdf)).pages)
            print(f"{title:24}{sheets:8}{1e3 * (end - began):7.0f}{1e3 * cpu:11.0f}{len(pdf) / 1e3:7.0f}")


if __name__ == "__main__":
    main()
