"""The papers of a depot as PDF: one function each, from answers or from plain values."""

from __future__ import annotations

import datetime as dt

from keyhook.depot.depot import Depot
from keyhook.hire.hire import Hire
from keyhook.loading.lightening import Lightening
from keyhook.loading.outcome import CabCard, LoadingAnswer
from keyhook.phrases import say
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook_desk.papers.cab_paper import cab_card_paper
from keyhook_desk.papers.documents import DaySheet, HandOverSheet, Imprint, StickerSheet
from keyhook_desk.papers.loading_paper import loading_paper
from keyhook_desk.papers.setting import set_paper


def loading_sheet(
    answer: LoadingAnswer,
    lightening: Lightening | None,
    hire: Hire,
    sheet: BuildSheet,
    vehicle: str,
    depot: Depot,
    *,
    day: dt.date,
    plate: str = "",
) -> bytes:
    """Return the loading sheet of a hire.

    Parameters
    ----------
    answer, lightening
        Will it carry them, and the least change that makes it legal; None when nothing needs to change.
    vehicle, plate
        The vehicle's short name for its key tag, and its registration.
    day
        The day for which it is set; the same day and answer give the same bytes.
    """
    imprint = _imprint(say("papers.loading.title", {"hire": hire.id}), depot, day, sheet, (vehicle, plate))
    return set_paper(loading_paper(answer, lightening, hire, sheet, imprint))


def cab_card(card: CabCard, sheet: BuildSheet, vehicle: str, depot: Depot, *, day: dt.date, plate: str = "") -> bytes:
    """Return the card for the visor: height, widths, length and mass in both units."""
    imprint = _imprint(say("papers.card.title", {"vehicle": vehicle}), depot, day, sheet, (vehicle, plate))
    return set_paper(cab_card_paper(card, sheet, imprint))


def day_sheet(sheet: DaySheet) -> bytes:
    """Return the day sheet: who does what when, and what was promised."""
    return set_paper(sheet)


def hand_over_sheet(sheet: HandOverSheet) -> bytes:
    """Return the hand-over sheet: stations in walking order with boxes to tick."""
    return set_paper(sheet)


def sticker_sheet(sheet: StickerSheet) -> bytes:
    """Return the sheet of find-it stickers."""
    return set_paper(sheet)


def _imprint(title: str, depot: Depot, day: dt.date, sheet: BuildSheet, vehicle: tuple[str, str]) -> Imprint:
    tag, plate = vehicle
    return Imprint(title=title, depot=depot.name, region=depot.country, day=day, tag=tag, name=sheet.name, plate=plate)
