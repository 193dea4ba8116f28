"""The database's own guard of the hand-over ledger: entries are added, never changed or taken out.

One change is let through, because the law asks for it: name and signature may be dropped (``personal`` to null).
"""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps

NAME = "hand_over_stays"
_TABLE = "walkround_handoverrecord"
_KEPT = ("id", "number", "uid", "hire_id", "entry", "before_hash", "entry_hash")

_SQLITE = {
    "changed": f"""
CREATE TRIGGER {NAME}_changed BEFORE UPDATE ON {_TABLE}
WHEN NEW.personal IS NOT NULL OR {" OR ".join(f"OLD.{name} IS NOT NEW.{name}" for name in _KEPT)}
BEGIN SELECT RAISE(ABORT, '{NAME}'); END
""",
    "taken": f"CREATE TRIGGER {NAME}_taken BEFORE DELETE ON {_TABLE} BEGIN SELECT RAISE(ABORT, '{NAME}'); END",
}
_POSTGRESQL = (
    f"""
CREATE FUNCTION {NAME}() RETURNS trigger AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND NEW.personal IS NULL
       AND {" AND ".join(f"OLD.{name}::text IS NOT DISTINCT FROM NEW.{name}::text" for name in _KEPT)} THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION '{NAME}' USING ERRCODE = 'integrity_constraint_violation';
END $$ LANGUAGE plpgsql
""",
    f"CREATE TRIGGER {NAME} BEFORE UPDATE OR DELETE ON {_TABLE} FOR EACH ROW EXECUTE FUNCTION {NAME}()",
)
_SEEN = {
    "postgresql": "SELECT count(*) FROM pg_trigger WHERE tgname = %s AND NOT tgisinternal",
    "sqlite": "SELECT count(*) / 2 FROM sqlite_master WHERE type = 'trigger' AND name LIKE %s || '_%%'",
}


def put_up(apps: StateApps, schema: BaseDatabaseSchemaEditor) -> None:
    """Put the guard up."""
    _ = apps
    for statement in _POSTGRESQL if schema.connection.vendor == "postgresql" else _SQLITE.values():
        schema.execute(statement)


def take_down(apps: StateApps, schema: BaseDatabaseSchemaEditor) -> None:
    """Take the guard down."""
    _ = apps
    if schema.connection.vendor == "postgresql":
        schema.execute(f"DROP TRIGGER {NAME} ON {_TABLE}")
        schema.execute(f"DROP FUNCTION {NAME}()")
        return
    for what in _SQLITE:
        schema.execute(f"DROP TRIGGER {NAME}_{what}")


def is_missing(connection: BaseDatabaseWrapper) -> bool:
    """Tell whether the ledger is there without its guard."""
    with connection.cursor() as cursor:
        if _TABLE not in connection.introspection.table_names(cursor):
            return False
        cursor.execute(_SEEN[connection.vendor], [NAME])
        return bool(cursor.fetchone()[0] != 1)
