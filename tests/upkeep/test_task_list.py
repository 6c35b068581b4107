"""The list of maintenance tasks: what it holds, and how its mistakes are told."""

from __future__ import annotations

import pytest

from asfound.errors import KnowledgeError
from asfound.upkeep.task_list import generic_tasks, read_tasks

GOOD = """\
tasks:
- {id: oil, title: Oil, hours: [500, 2000], state: isolated, minutes: 180, tags: [hot], source: common_practice}
published_intervals:
- {task: oil, hours: [750, 1000], source: common_practice}
oil_marks:
- {property: water, rule: by volume, low: null, high: 0.5, unit: '%', source: common_practice}
"""


def test_the_packaged_list_is_whole():
    found = generic_tasks()
    assert len(found.tasks) == 24
    assert {one.task for one in found.intervals} <= found.tasks.keys()
    assert len(found.published("major")) == 3


@pytest.mark.parametrize("task", generic_tasks().tasks.values(), ids=lambda task: task.id)
def test_work_on_the_isolated_engine_brings_the_cautions_of_isolation(task):
    assert (task.state == "isolated") <= ("loto" in {one.tag for one in task.cautions})
    assert set(task.tags) <= {one.tag for one in task.cautions}


def test_published_intervals_lie_near_the_span_of_the_list():
    """The spans are judgement: public figures are to overlap them, but for the block rebuild of an old table."""
    found = generic_tasks()
    for one in found.intervals:
        span = found.tasks[one.task].hours
        if one.hours != (16000.0, 16000.0):
            assert one.hours[0] <= span[1]
            assert one.hours[1] >= span[0]


def test_a_file_of_the_same_shape_is_read():
    found = read_tasks(GOOD, file="own.yaml")
    assert found.tasks["oil"].hours == (500.0, 2000.0)
    assert found.oil_marks[0].passed(0.6)
    assert not found.oil_marks[0].passed(0.5)
    assert not found.oil_marks[0].passed(float("nan"))


@pytest.mark.parametrize(
    ("wrong", "right", "line", "said"),
    [
        ("hours: [500, 2000]", "hours: [2000, 500]", 2, "span"),
        ("hours: [500, 2000]", "hours: [500]", 2, "span"),
        ("hours: [500, 2000], ", "", 2, "never comes round"),
        ("state: isolated", "state: asleep", 2, "asleep"),
        ("tags: [hot]", "tags: [haunted]", 2, "haunted"),
        ("minutes: 180", "minutes: -1", 2, "range"),
        ("title: Oil", "tittle: Oil", 2, "tittle"),
        ("task: oil", "task: plugs", 4, "plugs"),
        ("high: 0.5", "high: null", 6, "mark"),
        (", source: common_practice}\npub", "}\npub", 2, "source"),
        ("common_practice}\noil", "nobody}\noil", 4, "nobody"),
    ],
)
def test_a_mistake_is_told_with_its_line(wrong, right, line, said):
    assert wrong in GOOD
    with pytest.raises(KnowledgeError, match=said) as told:
        read_tasks(GOOD.replace(wrong, right, 1), file="own.yaml")
    assert told.value.line == line


def test_a_task_twice_is_told():
    row = GOOD.splitlines()[1]
    with pytest.raises(KnowledgeError, match="twice"):
        read_tasks(GOOD.replace(row, f"{row}\n{row}"), file="own.yaml")
