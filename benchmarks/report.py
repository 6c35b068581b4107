"""How long the sheets of a visit take: what stands in them, and setting them, each visit set for the first time.

Run with ``python benchmarks/report.py``; the visits are those of the tests of the report.
"""

from __future__ import annotations

import sys
import tempfile
import time
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
            content = report_content(views[name], proof=False) | {"title": name, "attach": True}
            middle, cpu = time.perf_counter(), time.process_time()
            pdf = typeset("visit.typ", content, {"record.json": b"{}"})
            end, cpu = time.perf_counter(), time.process_time() - cpu
            print(
                f"{name:10}{len(views[name].worked.results):9}{1e3 * (middle - began):12.0f}"
                f"{1e3 * (end - middle):12.0f}{1e3 * cpu:11.0f}{len(pdf) / 1e3:7.0f}"
            )
        drawing, tags = drawing_of(views["a2"])
        began = time.perf_counter()
        for _ in range(100):
            engine_drawing(drawing, tags=tags)
        print(f"drawing of an engine with {len(tags)} tags: {1e3 * (time.perf_counter() - began) / 100:.1f} ms")


if __name__ == "__main__":
    main()
