"""A column for the document people wrote, in the order in which they wrote it."""

from __future__ import annotations

import json
from typing import Any

from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from psycopg.types.json import Json


class WrittenField(models.JSONField):
    """JSON that keeps the order of its keys on both engines: PostgreSQL's ``jsonb`` would sort them."""

    def db_type(self, connection: BaseDatabaseWrapper) -> str | None:
        """Return ``json`` on PostgreSQL, Django's own type elsewhere."""
        return "json" if connection.vendor == "postgresql" else super().db_type(connection)

    def get_db_prep_value(self, value: Any, connection: BaseDatabaseWrapper, prepared: bool = False) -> Any:
        """Return the value as the engine takes it."""
        if connection.vendor == "postgresql" and value is not None and not hasattr(value, "as_sql"):
            return Json(value)
        return super().get_db_prep_value(value, connection, prepared)

    def from_db_value(self, value: Any, expression: Any, connection: BaseDatabaseWrapper) -> Any:
        """Return what was written; PostgreSQL's driver has parsed it already."""
        _ = expression, connection
        return json.loads(value) if isinstance(value, str) else value
