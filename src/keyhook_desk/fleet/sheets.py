"""The one file that turns rows into build sheets.

Sheets are frozen, so each document is validated once a process: what is kept is kept under the digest of what it was
made from.
"""

from __future__ import annotations

from keyhook.vehicle.build_sheet import BuildSheet, Vehicle, as_built
from keyhook_desk.fleet.models import SheetRow, VehicleRow
from keyhook_desk.web.kept import Kept

_SHEETS: Kept[BuildSheet] = Kept(256)
_BUILT: Kept[BuildSheet] = Kept(2048)


def sheet_of(row: SheetRow) -> BuildSheet:
    """Return the build sheet of a row."""
    return _SHEETS.answer(row.digest, lambda: BuildSheet.model_validate(row.document))


def vehicle_of(row: VehicleRow) -> Vehicle:
    """Return the vehicle of a row."""
    return Vehicle.model_validate(row.document)


def built_of(row: VehicleRow) -> BuildSheet:
    """Return the sheet of one vehicle with its own tickets and tyre dates; ``row.sheet`` should be loaded."""
    return _BUILT.answer((row.digest, row.sheet.digest), lambda: as_built(sheet_of(row.sheet), vehicle_of(row)))
