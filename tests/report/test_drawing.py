"""The plan of an engine: order of tags, nothing mirrored, nothing touching, every layout of the trade's common ones."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.report.drawing import engine_drawing, mini_drawing
from asfound.report.engine_plan import DrawnSlot, EngineDrawing, Tag, caption
from asfound.report.spread import spread

from .boxes import check, cut, overlaps, parse, words

KINDS = (
    "box",
    "loaf",
    "display",
    "port",
    "strip",
    "probe",
    "head",
    "valve",
    "actuator",
    "bracket",
    "plate",
    "coil",
    "knock",
    "dome",
)


def sides(count: int, seed: int = 3) -> tuple[DrawnSlot, ...]:
    """Return slots in the order in which they are numbered: left side from the flywheel end, right side back."""
    left = [
        DrawnSlot(
            slot=f"l{i}",
            side="left",
            along=(i + 0.5) / (count // 2 + 1),
            kind=KINDS[(i * seed) % len(KINDS)],
            picture="box",
        )
        for i in range(count // 2)
    ]
    right = [
        DrawnSlot(
            slot=f"r{i}",
            side="right",
            along=1 - (i + 0.5) / (count - count // 2 + 1),
            kind=KINDS[(i + seed) % len(KINDS)],
            picture="box",
        )
        for i in range(count - count // 2)
    ]
    return (*left, *right)


def tags(slots: tuple[DrawnSlot, ...], **more: Any) -> list[Tag]:
    return [
        Tag(number=i, slot=s.slot, title=s.slot, probability=0.9, looked="seen", href=f"#{s.slot}", **more)
        for i, s in enumerate(slots, 1)
    ]


def faces(markup: str) -> list[tuple[float, float]]:
    """Return the upper left corners of the tags, in the order of the markup."""
    found = []
    for node in parse(markup).iter("path"):
        if node.attrib.get("class") == "face":
            first = node.attrib["d"].split(" H ", 1)[0]
            x, y = first.removeprefix("M ").split(",")
            found.append((float(x) - 12, float(y)))
    return found


LAYOUTS = [("inline", n) for n in (6, 8, 9, 12)] + [("vee", n) for n in (6, 8, 10, 12, 14, 16, 18)]


@pytest.mark.parametrize("direction", ["across", "up"])
@pytest.mark.parametrize(("layout", "cylinders"), LAYOUTS)
@pytest.mark.parametrize("end", ["free_end", "driving_end"])
def test_every_layout_is_clear(direction: Any, layout: Any, cylinders: int, end: Any) -> None:
    slots = sides(15)
    drawing = EngineDrawing(
        tag="A3",
        layout=layout,
        cylinders=cylinders,
        turbochargers=2 if layout == "vee" else 1,
        turbo_end=end,
        driven="compressor",
        slots=slots,
    )
    for marked in (False, True):
        one = tags(slots)
        if marked:
            one[3] = Tag(number=4, slot=slots[3].slot, title="x", looked="open", next_look=True, href="#x")
        markup = engine_drawing(drawing, tags=one, direction=direction)
        check(markup)
        corners = faces(markup)
        assert len(corners) == 15
        for (xa, ya), (xb, yb) in combinations(corners, 2):
            assert abs(xa - xb) >= 54 or abs(ya - yb) >= 54, "no tag lies on another"


def test_tags_run_clockwise_and_keys_follow_their_numbers() -> None:
    slots = sides(16)
    across = engine_drawing(EngineDrawing(cylinders=9, slots=slots), tags=tags(slots), direction="across")
    corners = faces(across)
    left, right = corners[:8], corners[8:]
    assert [x for x, _ in left] == sorted(x for x, _ in left)
    assert [x for x, _ in right] == sorted((x for x, _ in right), reverse=True)
    assert max(y for _, y in left) < min(y for _, y in right)
    up = faces(engine_drawing(EngineDrawing(cylinders=9, slots=slots), tags=tags(slots), direction="up"))
    assert [y for _, y in up[:8]] == sorted((y for _, y in up[:8]), reverse=True), (
        "left side from the flywheel, which is below"
    )
    assert [y for _, y in up[8:]] == sorted(y for _, y in up[8:])
    links = [n.attrib["href"] for n in parse(across).iter("a")]
    assert links == [f"#{s.slot}" for s in slots]


@pytest.mark.parametrize("count", [2, 22, 30, 40])
def test_few_and_many_places(count: int) -> None:
    slots = sides(count)
    for direction in ("across", "up"):
        markup = engine_drawing(EngineDrawing(cylinders=9, slots=slots), tags=tags(slots), direction=direction)  # type: ignore[arg-type]
        corners = faces(markup)
        assert len(corners) == count
        if count <= 30:
            assert all(abs(a - c) >= 53.9 or abs(b - d) >= 53.9 for (a, b), (c, d) in combinations(corners, 2))


@pytest.mark.parametrize(
    ("drawing", "names"),
    [
        (EngineDrawing(cylinders=3, first_at="free_end"), (("3", "2", "1"),)),
        (EngineDrawing(cylinders=3, first_at="driving_end"), (("1", "2", "3"),)),
        (EngineDrawing(layout="vee", cylinders=4, names="L1", first_at="free_end"), (("L2", "L1"), ("R2", "R1"))),
        (EngineDrawing(layout="vee", cylinders=4, names="A1", first_at="driving_end"), (("A1", "A2"), ("B1", "B2"))),
        (EngineDrawing(layout="vee", cylinders=4, names="1", first_at="driving_end"), (("1", "3"), ("2", "4"))),
        (
            EngineDrawing(layout="vee", cylinders=4, names="L1", first_at="driving_end", sides_seen_from="free_end"),
            (("R1", "R2"), ("L1", "L2")),
        ),
    ],
)
def test_numbering_conventions(drawing: EngineDrawing, names: tuple[tuple[str, ...], ...]) -> None:
    """Which row is left depends on the end one looks from (SAE J824 and ISO 1204 differ): the record decides."""
    assert drawing.cylinder_names() == names


def test_counting_from_the_other_end_turns_the_numbers_not_the_engine() -> None:
    def at(first: Any) -> dict[str, float]:
        return {
            b.text: b.left
            for b in words(engine_drawing(EngineDrawing(cylinders=6, first_at=first)))
            if b.text.isdigit()
        }

    free, driving = at("free_end"), at("driving_end")
    assert free["1"] > free["6"]
    assert driving["1"] < driving["6"]
    assert free["1"] == driving["6"]


def test_mirror_handed_changes_sides_of_the_engine_not_of_its_tags() -> None:
    slots = sides(6)
    plain, mirrored = (
        engine_drawing(EngineDrawing(cylinders=9, turbochargers=1, mirrored=m, slots=slots), tags=tags(slots))
        for m in (False, True)
    )
    assert plain != mirrored
    assert faces(plain) == faces(mirrored)


def test_states_of_a_tag() -> None:
    slots = sides(6)
    every = [
        Tag(number=1, slot="l0", title="a", looked="seen"),
        Tag(number=2, slot="l1", title="b", looked="open"),
        Tag(number=3, slot="l2", title="c", looked="not_judged", probability=0.5),
        Tag(number=4, slot="r0", title="d", looked="seen", belongs="kit"),
        Tag(number=5, slot="r1", title="e", looked="seen", belongs="stranger", clash=True),
        Tag(number=6, slot="r2", title="f", looked="seen", clash=True, chosen=True),
    ]
    markup = engine_drawing(EngineDrawing(cylinders=6, slots=slots), tags=every)
    kinds = [n.attrib["class"] for n in parse(markup).iter("g") if n.attrib.get("class", "").startswith("tag")]
    assert kinds[6:] == ["tag", "tag open", "tag open", "tag kit", "tag alien", "tag clash sel"]
    assert 'role="img"' in markup
    assert 'role="group"' in engine_drawing(EngineDrawing(cylinders=6, slots=slots), tags=tags(slots))


def test_flywheel_is_named_and_what_is_driven_too() -> None:
    for direction in ("across", "up"):
        texts = " ".join(b.text for b in words(engine_drawing(EngineDrawing(driven="generator"), direction=direction)))  # type: ignore[arg-type]
        assert "flywheel" in texts
        assert "generator" in texts


def test_caption_says_from_where() -> None:
    said = " ".join(caption(EngineDrawing(tag="N2", first_at="driving_end", operator_counts_from="free_end")))
    assert "as seen from the flywheel end" in said
    assert "counted from the flywheel end; the operator counts from the free end" in said
    assert "not to scale" in said
    assert "not known" in " ".join(caption(EngineDrawing(known=False)))


@pytest.mark.parametrize(("layout", "cylinders"), [("inline", 0), ("inline", 25), ("vee", 9)])
def test_what_cannot_be_drawn_is_refused(layout: Any, cylinders: int) -> None:
    with pytest.raises(InputError, match="cylinders"):
        EngineDrawing(layout=layout, cylinders=cylinders)


def test_mini_drawing_has_no_words() -> None:
    for one in (None, EngineDrawing(layout="vee", cylinders=18, turbochargers=2, turbo_end="driving_end")):
        assert words(mini_drawing(one)) == []
    assert "not known" in mini_drawing(None)


@given(
    st.lists(st.floats(0, 700), min_size=1, max_size=14).map(sorted),
    st.floats(20, 66),
)
@settings(max_examples=100)
def test_spread_keeps_order_distance_and_room(wanted: list[float], gap: float) -> None:
    got = spread(wanted, [gap] * (len(wanted) - 1), 0, 950)
    assert all(b - a >= gap - 1e-6 for a, b in pairwise(got))
    assert got[0] >= -1e-6
    assert got[-1] <= 950 + 1e-6


def test_spread_leaves_alone_what_fits() -> None:
    assert spread([10, 200, 400], [66, 66], 0, 500) == [10, 200, 400]


def test_paper_has_no_links_and_plain_colours() -> None:
    slots = sides(8)
    markup = engine_drawing(
        EngineDrawing(cylinders=9, slots=slots, turbochargers=1), tags=tags(slots), paper=True, width=674
    )
    assert "<a " not in markup
    assert "var(" not in markup
    assert overlaps(markup) == []
    assert cut(markup) == []
