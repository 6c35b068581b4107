"""A device that sends the same twice is answered alike, and the record holds it once."""

import threading

import pytest

from asfound.records.sent import AlreadySentError, note_answer, sending, sent

KEY = "0190a5b2-0000-7000-8000-000000000001"


@pytest.fixture
def visit(records, begin):
    return begin(records)[1]


def keep(records, visit, text):
    return records.append("note", {"text": text, "time": "2032-07-08T09:00:00-06:00"}, visit=visit, who="first")


def test_the_identifier_is_written_with_the_entries(records, visit):
    with sending(KEY):
        kept = keep(records, visit, "smells of gas")
    found = sent(records.database, KEY)
    assert found.entries == (kept.id,)
    assert (found.status, found.where) == (0, "")


def test_a_second_sending_writes_nothing(records, visit):
    with sending(KEY):
        first = keep(records, visit, "once")
    before = records.entries()
    with pytest.raises(AlreadySentError) as told, sending(KEY):
        keep(records, visit, "twice")
    assert told.value.sent.entries == (first.id,)
    assert records.entries() == before


def test_several_writings_of_one_sending_are_one(records, visit):
    with sending(KEY) as now:
        ids = [keep(records, visit, "one").id, keep(records, visit, "two").id]
        note_answer(records.database, now, at="2032-07-08T09:00:00-06:00", status=303, where="/here")
    found = sent(records.database, KEY)
    assert found.entries == tuple(ids)
    assert (found.status, found.where) == (303, "/here")


def test_an_answer_without_entries_is_known_too(records):
    with sending(KEY) as now:
        note_answer(records.database, now, at="2032-07-08T09:00:00-06:00", status=200, where="/v")
    assert sent(records.database, KEY).entries == ()
    with pytest.raises(AlreadySentError), sending(KEY) as again:
        note_answer(records.database, again, at="2032-07-08T09:00:00-06:00", status=200, where="/v")


def test_what_is_refused_is_not_marked_as_sent(records, visit):
    with pytest.raises(Exception, match="text"), sending(KEY):
        records.append("note", {"txt": "no such field"}, visit=visit, who="first")
    assert sent(records.database, KEY) is None


def test_of_many_threads_one_writes(records, visit):
    told = []

    def once(n):
        try:
            with sending(KEY):
                told.append(keep(records, visit, f"from thread {n}").id)
        except AlreadySentError as known:
            told.append(known.sent.entries[0])

    threads = [threading.Thread(target=once, args=(n,)) for n in range(6)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert len(told) == 6
    assert len(set(told)) == 1
    assert [one.content["text"] for one in records.entries(visit=visit) if one.kind == "note"] == [
        next(one.content["text"] for one in records.entries(visit=visit) if one.id == told[0])
    ]


def test_other_writings_need_no_identifier(records, visit):
    keep(records, visit, "plain")
    with records.database.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM sent").scalar() == 0
