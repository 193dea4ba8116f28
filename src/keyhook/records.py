"""The base of every record that people write as text: frozen, strict, nothing unknown let through."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StringConstraints


class Record(BaseModel):
    """A frozen record; an unknown field is an error, so a typing slip never passes in silence."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=False, allow_inf_nan=False, str_strip_whitespace=True)


Name = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_\-]*$", max_length=60)]
Text = Annotated[str, StringConstraints(min_length=1, max_length=200)]
Probability = Annotated[float, Field(ge=0, le=1)]
Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
