"""What was proposed after the model was asked: a setting, as a person wants it tried; nothing at the engine moved."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from asfound.records.kind_base import Content, Line, State, Text, Time

Changed = Literal["timing", "mixture", "charge", "air", "power", "humidity"]
Share = Annotated[float, Field(ge=0.0, le=1.0)]


class ProposedPart(Content):
    """One part of the setting as it is proposed."""

    as_typed: Line
    """With its unit: ``16.5 deg``."""
    value: float
    """[SI] Timing before top dead centre in rad, mixture as lambda, charge and air in K, power in W, humidity in
    kg/kg."""


class ProposedSetting(Content):
    """A setting that was asked of the model and kept as proposed; its answer is worked out anew wherever it stands."""

    state: State
    """State of the visit from which it starts."""
    changes: dict[Changed, ProposedPart] = {}
    gas: dict[Line, Share] = {}
    """Another gas, component to mole fraction; empty: the gas of the visit."""
    gas_as_typed: Text = ""
    why: Text = ""
    time: Time

    @model_validator(mode="after")
    def _something(self) -> ProposedSetting:
        if not self.changes and not self.gas:
            raise ValueError("changes is empty: a proposed setting differs from the one that was read")
        return self


WHATIF_KINDS: dict[str, type[Content]] = {"proposed_setting": ProposedSetting}
