"""A window of local clock time within one day, written ``08:00-18:00``."""

from __future__ import annotations

import datetime as dt
from typing import Any

from pydantic import GetJsonSchemaHandler, model_serializer, model_validator
from pydantic_core import CoreSchema

from keyhook.records import Record

WRITTEN = r"^[0-2][0-9]:[0-5][0-9]-[0-2][0-9]:[0-5][0-9]$"


class Window(Record):
    """From and to on the depot's clock, the first before the second."""

    opens: dt.time
    closes: dt.time

    @classmethod
    def of(cls, text: str) -> Window:
        """Return the window written as ``08:00-18:00``."""
        return cls.model_validate(text)

    @model_validator(mode="before")
    @classmethod
    def _from_text(cls, value: object) -> object:
        if not isinstance(value, str):
            return value
        try:
            opens, closes = (dt.time.fromisoformat(part.strip()) for part in value.split("-"))
        except ValueError:
            raise ValueError("a window is written from-to, for example 08:00-18:00") from None
        return {"opens": opens, "closes": closes}

    @model_validator(mode="after")
    def _opens_before_it_closes(self) -> Window:
        if self.opens >= self.closes:
            raise ValueError("a window opens before it closes, for example 08:00-18:00")
        return self

    @model_serializer
    def _as_text(self) -> str:
        return str(self)

    def __str__(self) -> str:
        """Return the window as it is written in a file."""
        return f"{self.opens:%H:%M}-{self.closes:%H:%M}"

    def holds(self, moment: dt.time) -> bool:
        """Tell whether the local clock time lies in the window, its end included."""
        return self.opens <= moment <= self.closes

    @property
    def length_min(self) -> int:
        """Minutes on the clock from opening to closing."""
        return (self.closes.hour - self.opens.hour) * 60 + self.closes.minute - self.opens.minute

    @classmethod
    def __get_pydantic_json_schema__(cls, _core: CoreSchema, _handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Describe the window as the text people write."""
        return {"type": "string", "pattern": WRITTEN, "examples": ["08:00-18:00"], "title": "Window"}
