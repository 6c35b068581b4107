"""Small random models and observations for hypothesis: everything that can be said, in sizes that can be enumerated."""

from __future__ import annotations

from hypothesis import strategies as st

from asfound.evidence import OTHER, Character, Kind, Lineage, LineageStatement, Model, Observation, Slot

KINDS = (Kind("sharp", 0.0), Kind("good", 0.04), Kind("poor", 0.3, wrong=0.35, slip=0.1), Kind("plate", 0.25))


def shares(draw, n: int) -> list[float]:
    raw = [draw(st.integers(1, 9)) for _ in range(n)]
    return [x / sum(raw) for x in raw]


@st.composite
def models(draw, unknown=(0.0, 0.1)) -> Model:
    slots = [Slot(f"s{i}", [f"v{j}" for j in range(draw(st.integers(1, 3)))]) for i in range(draw(st.integers(1, 2)))]
    n = draw(st.integers(1, 3))
    lineages = []
    for g, p in enumerate(shares(draw, n)):
        native = {
            slot.name: draw(st.sampled_from([v.name for v in slot.variants]))
            for slot in slots
            if draw(st.integers(0, 5))
        }
        lineages.append(Lineage(f"g{g}", p, native, as_built=draw(st.sampled_from(["", "old"]))))
    characters = []
    for slot in slots:
        for k in range(draw(st.integers(1, 2))):
            states = ("a", "b", "c")[: draw(st.integers(2, 3))]
            theta = {}
            for variant in [v.name for v in slot.variants]:
                form = draw(st.integers(0, 4))
                if form >= 3:
                    theta[variant] = draw(st.sampled_from(states))
                elif form >= 1:
                    theta[variant] = dict(zip(states, shares(draw, len(states)), strict=True))
            characters.append(Character(f"{slot.name}k{k}", slot.name, states, theta))
    return Model(lineages, slots, characters, KINDS, mu=0.12, w=0.05, unknown=draw(st.sampled_from(unknown)), floor=0.0)


@st.composite
def statements(draw, model: Model, *, sources=("p", "q"), most: int = 5, kinds=("good", "poor")):
    out: list[Observation | LineageStatement] = []
    kind_of = {name: draw(st.sampled_from(["poor", "plate"])) for name in sources}
    for _ in range(draw(st.integers(0, most))):
        source = draw(st.sampled_from([None, None, *sources]))
        kind = draw(st.sampled_from(kinds)) if source is None else kind_of[source]
        form = draw(st.integers(0, 6))
        if form == 0:
            names = [one.name for one in model.lineages]
            ticked = draw(st.lists(st.sampled_from(names), min_size=1, unique=True))
            out.append(LineageStatement(tuple(ticked), kind, source))
            continue
        one = draw(st.sampled_from(model.characters))
        if form == 1:
            out.append(Observation(one.name, kind=kind, source=source, undecided=True))
        elif form == 2:
            grades = {state: draw(st.integers(1, 9)) / 10 for state in one.states}
            out.append(Observation(one.name, kind=kind, source=source, likelihood=grades))
        else:
            ticked = draw(st.lists(st.sampled_from(one.states), min_size=1, max_size=2, unique=True))
            out.append(Observation(one.name, tuple(ticked), kind, source=source))
    return out


@st.composite
def situations(draw, **wishes):
    model = draw(models())
    return model, draw(statements(model, **wishes))


__all__ = ["KINDS", "OTHER", "models", "situations", "statements"]
