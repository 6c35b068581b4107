"""What the HTTP door takes, checked before anything else sees it: all that is wrong is said at once."""

from __future__ import annotations

from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from asfound.errors import InputError

Text = Annotated[str, StringConstraints(max_length=2000)]
Name = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_]{1,60}$")]
Name0 = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_]{0,60}$")]
Typed = Annotated[str, StringConstraints(max_length=200)]
Time = Annotated[
    str, StringConstraints(pattern=r"^(\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?([+-]\d{2}:\d{2}|Z))?$")
]
Id = Annotated[
    str, StringConstraints(pattern=r"^([0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12})?$")
]
State = Literal["as_found", "as_left"]
How = Literal["read", "in_hand", "at_part", "from_3m", "photo", "said", "plate", "paper"]


class Body(BaseModel):
    """What all bodies share: nothing unknown is ignored in silence."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, use_attribute_docstrings=True)


class Compute(Body):
    """Inputs of a worksheet."""

    inputs: dict[Annotated[str, StringConstraints(max_length=130)], Typed]
    """Quantity, or quantity@place, to the value as people write it: ``8.5 % +- 0.2 %``."""
    system: Literal["si", "us"] = "si"
    """Units in which results are shown."""
    draws: int = Field(default=10_000, ge=100, le=200_000)
    seed: int = Field(default=1, ge=0, le=2**32 - 1)


class LookBody(Body):
    """What was seen of a component, and how."""

    slot: Name
    character: Name0 = ""
    answer: Literal["seen", "not_there", "not_judged"] = "seen"
    states: tuple[Annotated[str, StringConstraints(min_length=1, max_length=400)], ...] = ()
    how: How = "at_part"
    label: Typed = ""
    by: Typed = ""
    source: Typed = ""
    time: Time = ""
    note: Text = ""


class RecordedLook(LookBody):
    """A look to be kept."""

    state: State = "as_found"


class FactsBody(Body):
    """What is known of an engine before anybody looks."""

    tag: Typed
    family: Typed = ""
    works_number: Typed = ""
    driven: Literal["compressor", "generator", ""] = ""
    layout: Literal["inline", "vee", ""] = ""
    cylinders: int = Field(default=0, ge=0, le=24)
    turbochargers: int | None = Field(default=None, ge=0, le=8)
    catalyst: bool | None = None
    bearings_measured: bool | None = None
    state: Literal["running", "stopped", "isolated"] = "running"
    plate: dict[Name, Typed] = {}


class IdentifyBody(Body):
    """Facts and looks that belong to no record."""

    engine: FactsBody
    looks: Annotated[tuple[LookBody, ...], Field(max_length=500)] = ()
    allowed: tuple[Literal["running", "stopped", "isolated"], ...] = ("running",)


class ReadingBody(Body):
    """A reading to be kept."""

    quantity: Name
    place: Name
    state: State = "as_found"
    value: Annotated[str, StringConstraints(min_length=1, max_length=200)]
    """As people write it, with its unit."""
    time: Time = ""
    """Empty: now."""
    instrument: Id = ""
    """Identifier of an instrument of this home."""
    note: Text = ""


class ReadingsBody(Body):
    """Readings, kept all or none."""

    readings: Annotated[tuple[ReadingBody, ...], Field(min_length=1, max_length=500)]


class LooksBody(Body):
    """Looks, kept all or none."""

    looks: Annotated[tuple[RecordedLook, ...], Field(min_length=1, max_length=200)]


B = TypeVar("B", bound=Body)


def body_of(model: type[B], body: Any) -> B:
    """Return a body as its model.

    Raises
    ------
    InputError
        Names the first thing that is wrong, and lists all.
    """
    try:
        return model.model_validate(body)
    except ValidationError as refused:
        found = refused.errors(include_url=False, include_context=False)
        said = [f"{'.'.join(str(part) for part in one['loc']) or 'body'}: {one['msg']}" for one in found]
        first = found[0]
        raise InputError(
            ".".join(str(part) for part in first["loc"]) or "body",
            str(first.get("input", ""))[:200],
            f"cannot be: {first['msg']}",
            try_next="All that is wrong: " + "; ".join(said[:20]),
        ) from None
