"""Reading packs: what was confirmed, which photos there are, which languages were read by a native speaker."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from keyhook.catalogue import load_catalogue
from keyhook.depot.depot import Depot
from keyhook.depot.tariff import Tariff
from keyhook.dossier import hire_pack, trip_load
from keyhook.errors import KeyhookError, UnknownName
from keyhook.hire.hire import Hire
from keyhook.loading.answer import loading_answer
from keyhook.pack import Pack, TripLoad
from keyhook.pack.messages import Sender
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.fleet.sheets import built_of, vehicle_of
from keyhook_desk.hires.models import HireRow
from keyhook_desk.hires.services import hire_of
from keyhook_desk.pack.models import FittingPhoto, LanguageTick, PackConfirmation
from keyhook_desk.web.kept import Kept
from keyhook_desk.yard.models import DepotRow

_PACKS: Kept[Pack] = Kept(128)
_TRIPS: Kept[TripLoad | None] = Kept(256)


@dataclass(frozen=True, slots=True)
class Held:
    """Everything one pack is made of."""

    row: HireRow
    vehicle: VehicleRow
    hire: Hire
    sheet: BuildSheet
    depot: Depot
    pack: Pack
    trip: TripLoad | None
    checked: bool

    @property
    def first_name(self) -> str:
        """The first name of whoever hired: all that a pack holds of a person."""
        told = next((person.name for person in self.hire.party if person.name), "") or self.hire.lead
        return told.split()[0] if told.split() else ""

    def sender(self, address: str) -> Sender:
        """Return who sends messages, with the address of the pack."""
        return Sender(self.depot.name, self.depot.phone, self.vehicle.name, address, self.first_name)


def held_pack(row: HireRow, language: str) -> Held:
    """Return the pack of a hire that has a vehicle, in a language; ``row.vehicle.sheet`` should be loaded."""
    vehicle = row.vehicle
    depot_row = DepotRow.objects.first()
    if vehicle is None or depot_row is None:
        raise UnknownName("This hire has no vehicle yet", seen=row.name, todo="Choose one first")
    hire, sheet = hire_of(row), built_of(vehicle)
    checked = language in languages_checked()
    key = (row.digest, vehicle.digest, vehicle.sheet.digest)
    depot = Depot.model_validate(depot_row.document)
    pack = _PACKS.answer(
        (*key, depot_row.digest, str(depot_row.tariff), language, checked),
        lambda: hire_pack(
            sheet,
            hire,
            load_catalogue(),
            Tariff.model_validate(depot_row.tariff),
            quirks=vehicle_of(vehicle).quirks,
            language=language,
            checked=checked,
            own=depot.words.get(language),
        ),
    )
    trip = _TRIPS.answer(key, lambda: _trip(sheet, hire))
    return Held(row, vehicle, hire, sheet, depot, pack, trip, checked)


def _trip(sheet: BuildSheet, hire: Hire) -> TripLoad | None:
    day: dt.date = hire.collect_at.astimezone(ZoneInfo(hire.zone)).date()
    try:
        return trip_load(sheet, hire, loading_answer(sheet, hire, load_catalogue(), on_day=day))
    except KeyhookError:
        return None  # the desk has been told on its own page; the hirer gets the rest


def confirmed_points(hire_row: HireRow) -> frozenset[str]:
    """Return the teach points that the hirer has confirmed in their pack."""
    return frozenset(PackConfirmation.objects.filter(hire=hire_row).values_list("point", flat=True))


def languages_checked() -> frozenset[str]:
    """Return the languages that a native speaker has read for this depot; English is the original."""
    return frozenset({"en", *LanguageTick.objects.values_list("language", flat=True)})


def photos_of(vehicle: VehicleRow) -> Mapping[str, list[FittingPhoto]]:
    """Return the photos of a vehicle by fitting, without their content."""
    found: dict[str, list[FittingPhoto]] = {}
    for photo in FittingPhoto.objects.filter(vehicle=vehicle).defer("content"):
        found.setdefault(photo.fitting, []).append(photo)
    return found
