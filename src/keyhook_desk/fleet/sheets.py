"""The one file that turns rows into build sheets."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from keyhook.vehicle.build_sheet import BuildSheet, Vehicle, as_built
from keyhook_desk.fleet.models import SheetRow, VehicleRow


def sheet_of(row: SheetRow) -> BuildSheet:
    """Return the build sheet of a row; sheets are frozen, so one version is validated once a process."""
    return _sheet(row.pk, row.version, _Held(row.document))


def vehicle_of(row: VehicleRow) -> Vehicle:
    """Return the vehicle of a row."""
    return Vehicle.model_validate(row.document)


def built_of(row: VehicleRow) -> BuildSheet:
    """Return the sheet of one vehicle with its own tickets and tyre dates; ``row.sheet`` should be loaded."""
    return _built(row.pk, row.version, row.sheet.version, _Held((row.document, row.sheet)))


class _Held:
    """Carries a value past the cache: only pk and version make the key."""

    def __init__(self, value: Any) -> None:
        self.value = value

    def __hash__(self) -> int:
        return 0

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Held) and other.value == self.value


@lru_cache(maxsize=256)
def _sheet(_pk: int, _version: int, held: _Held) -> BuildSheet:
    return BuildSheet.model_validate(held.value)


@lru_cache(maxsize=1024)
def _built(_pk: int, _version: int, _sheet_version: int, held: _Held) -> BuildSheet:
    document, sheet_row = held.value
    return as_built(sheet_of(sheet_row), Vehicle.model_validate(document))
