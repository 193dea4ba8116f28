"""From the sizes of a hire to the cab card."""

from __future__ import annotations

from keyhook.loading.outcome import CabCard
from keyhook.phrases import say
from keyhook.units import feet_inches_up, pounds
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook_desk.papers.documents import CabCardPaper, Imprint, Size

_KG_PER_T = 1000.0


def cab_card_paper(card: CabCard, sheet: BuildSheet, imprint: Imprint) -> CabCardPaper:
    """Return what stands on the cab card; every length in feet is rounded up to the inch."""
    mass = Size(_say("mass"), f"{card.mam_kg:.0f}", "kg", f"{pounds(card.mam_kg)} lb", f"{card.mam_kg / _KG_PER_T:g} t")
    return CabCardPaper(
        imprint=imprint,
        height=_length("height", card.height_m),
        sizes=(
            _length("mirrors", card.width_mirrors_m),
            _length("body", card.width_m),
            _length("length_rack" if card.rack_on else "length", card.length_with_rack_m),
            mass,
        ),
        rack_on=card.rack_on,
        rack_words=_rack(card, sheet),
        advice=_say("advice"),
    )


def _say(key: str, **values: object) -> str:
    return say(f"papers.card.{key}", values)


def _length(key: str, length_m: float) -> Size:
    feet, inches = feet_inches_up(length_m)
    return Size(_say(key), f"{length_m:.2f}", "m", f"{feet} ft {inches} in")


def _rack(card: CabCard, sheet: BuildSheet) -> str:
    if sheet.rack is None:
        return ""
    if card.rack_on:
        extra_m = card.length_with_rack_m - card.length_m
        return _say("with_rack", extra=f"{extra_m:.2f}", bare=f"{card.length_m:.2f}")
    return _say("could_rack", length=f"{card.length_m + sheet.rack.adds_length_m:.2f}")
