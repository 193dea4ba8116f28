"""From a build sheet to its sheet of find-it stickers: number, name, place, and a code that opens the card."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from keyhook.catalogue import load_catalogue
from keyhook.depot.depot import Depot
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook_desk.papers.documents import Imprint, Sticker, StickerSheet


def sticker_paper(
    sheet: BuildSheet,
    vehicle: str,
    depot: Depot,
    *,
    day: dt.date,
    address: Callable[[int], str],
    skip: int = 0,
) -> StickerSheet:
    """Return the stickers of a vehicle in the order of their numbers.

    Parameters
    ----------
    address
        Gives what the code of a number opens.
    skip
        Labels of the first sheet that are used already.
    """
    fittings = load_catalogue().fittings
    places = {station.id: station.name for station in sheet.stations}
    imprint = Imprint(
        title=f"Stickers {vehicle}", depot=depot.name, region=depot.country, day=day, tag=vehicle, name=sheet.name
    )
    return StickerSheet(
        imprint,
        tuple(
            Sticker(one.find_it, fittings[one.fitting].name, places.get(one.station, ""), address(one.find_it))
            for one in sorted(sheet.fittings, key=lambda one: one.find_it)
        ),
        skip,
    )
