"""What the pages of visits leave in memory: nothing of a visit once it is dropped from what is remembered."""

from __future__ import annotations

import gc
import weakref

from starlette.testclient import TestClient

from asfound.records.store import Records
from asfound.records.visit import view

VISITS = ("D2/2032-06-21", "D1/2032-06-20", "A1/2032-05-03", "A2/2032-07-08")
PAGES = ("", "/fuel", "/exhaust", "/cylinders", "/crosscheck", "/whatif", "/trouble", "/report")


def test_what_was_worked_out_of_visits_goes_when_they_are_dropped(client: TestClient, records: Records) -> None:
    """Only cylinders keep what they made of the last few cases, and these with it."""
    seen, sheets = {}, {}
    for visit in VISITS:
        for page in PAGES:
            assert client.get(f"/engines/{visit}{page}").status_code == 200
        found = view(records, visit)
        seen[visit], sheets[visit] = weakref.ref(found), weakref.ref(found.worked)
        del found
    records._remembered._kept.clear()
    records._memories.clear()
    gc.collect()
    assert [visit for visit, one in seen.items() if one() is not None] == []
    assert len([visit for visit, one in sheets.items() if one() is not None]) < len(VISITS)
