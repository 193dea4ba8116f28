"""The database's own guard against giving one vehicle to two hires at one time, for each engine."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

_HOLDING = "('booked', 'out', 'returned', 'closed')"
NAME = "hire_no_double"

_POSTGRESQL = f"""
ALTER TABLE hires_hirerow ADD CONSTRAINT {NAME} EXCLUDE USING gist (
    int8range(vehicle_id, vehicle_id, '[]') WITH &&,
    tstzrange(collect_at, return_at, '[)') WITH &&
) WHERE (vehicle_id IS NOT NULL AND status IN {_HOLDING})
"""

_SQLITE = f"""
CREATE TRIGGER {NAME}_{{when}} BEFORE {{event}} ON hires_hirerow
WHEN NEW.vehicle_id IS NOT NULL AND NEW.status IN {_HOLDING}
BEGIN
    SELECT RAISE(ABORT, '{NAME}') WHERE EXISTS (
        SELECT 1 FROM hires_hirerow AS other
        WHERE other.vehicle_id = NEW.vehicle_id AND other.id <> COALESCE(NEW.id, -1)
          AND other.status IN {_HOLDING}
          AND other.collect_at < NEW.return_at AND NEW.collect_at < other.return_at
    );
END
"""  # noqa: S608  # every part is a constant of this file
_EVENTS = {"insert": "INSERT", "update": "UPDATE"}
_SEEN = {
    "postgresql": "SELECT count(*) FROM pg_constraint WHERE conname = %s AND conrelid = to_regclass('hires_hirerow')",
    "sqlite": "SELECT count(*) / 2 FROM sqlite_master WHERE type = 'trigger' AND name LIKE %s || '_%%'",
}


def put_up(apps: StateApps, schema: BaseDatabaseSchemaEditor) -> None:
    """Put the guard up."""
    _ = apps
    if schema.connection.vendor == "postgresql":
        schema.execute(_POSTGRESQL)
        return
    for when, event in _EVENTS.items():
        schema.execute(_SQLITE.format(when=when, event=event))


def take_down(apps: StateApps, schema: BaseDatabaseSchemaEditor) -> None:
    """Take the guard down."""
    _ = apps
    if schema.connection.vendor == "postgresql":
        schema.execute(f"ALTER TABLE hires_hirerow DROP CONSTRAINT {NAME}")
        return
    for when in _EVENTS:
        schema.execute(f"DROP TRIGGER {NAME}_{when}")


def is_missing(connection: BaseDatabaseWrapper) -> bool:
    """Tell whether the table of hires is there without its guard."""
    with connection.cursor() as cursor:
        if "hires_hirerow" not in connection.introspection.table_names(cursor):
            return False
        cursor.execute(_SEEN[connection.vendor], [NAME])
        return bool(cursor.fetchone()[0] != 1)
