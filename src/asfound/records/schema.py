"""The published form of a visit's record as JSON."""

from __future__ import annotations

from functools import cache
from typing import Annotated, Any, Literal, Union

from pydantic import Base64Bytes, BaseModel, ConfigDict, Field, create_model

from asfound.records import kinds
from asfound.records.described import describe
from asfound.records.kind_base import Content, Digest, Id, Line, State, Text, Time

SCHEMA_ID = "urn:asfound:schema:visit-record:1"
FORM = "asfound visit record 1"


class File(Content):
    """A file of the visit; its content is there when the record was written with files."""

    digest: Digest
    size: int = Field(ge=0)
    content: Base64Bytes | None = None


class Made(Content):
    """Where this copy of the record comes from."""

    at: Time
    program: Line
    device: Text = ""


class ComputedResult(Content):
    """A number that the program worked out from the readings."""

    key: Line
    quantity: Line
    place: Line
    state: State
    value: float | None
    """SI; null where the worksheet has no answer."""
    unit: Text
    low: float | None
    high: float | None
    """The true value lies between low and high 95 times in 100."""
    standard_uncertainty: float | None
    worksheet: Line
    method: Text
    source: Text
    clause: Text
    inputs: list[Line]
    """Keys of the readings and results that it was made from."""
    assumed: list[Line]
    """Keys of what nobody read and was assumed."""
    cautions: list[Line]
    outside: list[Text]


class ComputedFinding(Content):
    """A finding of the program."""

    code: Line
    subject: Line
    says: Text
    severity: Literal["stop", "visit", "clash", "soon", "note"]
    next_step: Text
    compared_with: Text
    probability: float | None
    because: list[Text]
    cautions: list[Line]
    state: State
    extra: dict[str, Text]


class ComputedDifference(Content):
    """As left minus as found."""

    key: Line
    quantity: Line
    place: Line
    worksheet: Text
    found: float
    left: float
    difference: float
    low: float
    high: float
    chance: float
    unit: Text


class Computed(Content):
    """What the program made of the entries when this copy was written; for reading, never read back."""

    draws: int
    seed: int
    results: list[ComputedResult]
    findings: list[ComputedFinding]
    differences: list[ComputedDifference]
    identification: dict[str, Any] | None
    problems: list[Text]


def _literal(value: str) -> Any:
    """Return the type that only this text has."""
    return Literal[value]


@cache
def record_model() -> type[BaseModel]:
    """Return the model of a whole record: one form of entry per kind."""
    describe()
    entry_models = [
        create_model(
            f"{kind.title().replace('_', '')}Entry",
            __config__=ConfigDict(extra="forbid", use_attribute_docstrings=True),
            __doc__=(model.__doc__ or "").strip(),
            id=(Id, ...),
            at=(Time, ...),
            who=(Line, ...),
            device=(Line, ...),
            engine=(Id | None, ...),
            visit=(Id | None, ...),
            kind=(_literal(kind), ...),
            content=(model, ...),
            corrects=(Id | None, ...),
        )
        for kind, model in kinds.KINDS.items()
    ]
    entry = Annotated[Union[tuple(entry_models)], Field(discriminator="kind")]  # type: ignore[valid-type]  # noqa: UP007
    model: type[BaseModel] = create_model(
        "VisitRecord",
        __config__=ConfigDict(extra="forbid", populate_by_name=True, title="Record of a service visit"),
        __doc__="All entries of a visit and those that it stands on, with what the program made of them.",
        schema_id=(_literal(SCHEMA_ID), Field(alias="$schema")),
        form=(_literal(FORM), ...),
        made=(Made, ...),
        name=(Line, ...),
        engine=(Id, ...),
        visit=(Id, ...),
        context=(list[entry], ...),  # type: ignore[valid-type]
        entries=(list[entry], ...),  # type: ignore[valid-type]
        files=(list[File], ...),
        computed=(Computed | None, None),
    )
    return model


def schema() -> dict[str, Any]:
    """Return the JSON schema (2020-12) of a visit's record."""
    made = record_model().model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": SCHEMA_ID, **made}
