"""Before they return: how the vehicle should come back, and what its misuse costs at this depot, said kindly."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from keyhook.catalogue import Catalogue, Charge
from keyhook.depot.tariff import ChargePrice, Tariff
from keyhook.money import Money
from keyhook.pack.spoken import Spoken
from keyhook.vehicle.build_sheet import BuildSheet

#: Charges of how it came back rather than of what broke.
_OF_THE_RETURN = ("fuel_short", "exhaust_fluid_short", "gas_short", "toilet_unemptied", "grey_unemptied")
_CLEANING = "cleaning_"
#: What is filled, by what drives the vehicle.
_FUEL = {"diesel": "do_fuel", "petrol": "do_petrol", "electric": "do_electric"}


@dataclass(frozen=True, slots=True)
class Cost:
    """One thing that may be charged: its name with its language, and the depot's usual span; None when unpriced."""

    charge: str
    name: str
    language: str
    low: Money | None
    high: Money | None
    of_the_return: bool


@dataclass(frozen=True, slots=True)
class Leaving:
    """The checklist (keys of phrases ``pack.leave``), the costs by kind, the hirer's share, and what is wear.

    ``wear`` and ``not_wear`` are the depot's own words, each with its language first.
    ``not_limited`` are names of charges that the limit of the hirer's share does not hold for.
    """

    checklist: tuple[str, ...]
    costs: tuple[Cost, ...]
    excess: Money
    not_limited: tuple[str, ...]
    wear: tuple[tuple[str, str], ...]
    not_wear: tuple[tuple[str, str], ...]

    @property
    def of_the_return(self) -> tuple[Cost, ...]:
        """Costs of what is not full, not empty, not clean."""
        return tuple(cost for cost in self.costs if cost.of_the_return)

    @property
    def of_damage(self) -> tuple[Cost, ...]:
        """Costs of what broke or got lost."""
        return tuple(cost for cost in self.costs if not cost.of_the_return)


def what_to_leave(sheet: BuildSheet, catalogue: Catalogue, tariff: Tariff, spoken: Spoken) -> Leaving:
    """Return how this vehicle should come back and what may be charged for it.

    A charge stands here when a fitting of this vehicle may bring it, or when it belongs to no fitting at all.
    """
    charges = list(_charges(sheet, catalogue))
    prices = {price.charge: price for price in tariff.charges}
    costs = tuple(_cost(charge, prices.get(charge.id), tariff, spoken) for charge in charges)
    not_reduced = {name for name in tariff.excess.not_reduced if name in {charge.id for charge in charges}}
    return Leaving(
        checklist=_checklist(sheet),
        costs=costs,
        excess=tariff.money(tariff.excess.standard),
        not_limited=tuple(cost.name for cost in costs if cost.charge in not_reduced),
        wear=tuple(spoken.words(text) for text in tariff.wear.accepted),
        not_wear=tuple(spoken.words(text) for text in tariff.wear.not_accepted),
    )


def _charges(sheet: BuildSheet, catalogue: Catalogue) -> Iterator[Charge]:
    owned = {charge for fitting in catalogue.fittings.values() for charge in fitting.charges}
    here = {charge for one in sheet.fittings for charge in catalogue.fittings[one.fitting].charges}
    yield from (charge for charge in catalogue.charges.values() if charge.id in here or charge.id not in owned)


def _cost(charge: Charge, price: ChargePrice | None, tariff: Tariff, spoken: Spoken) -> Cost:
    language, said = spoken.card({f"charge.{charge.id}.name": charge.name})
    low, high = (tariff.money(price.low), tariff.money(price.high)) if price else (None, None)
    of_the_return = charge.id in _OF_THE_RETURN or charge.id.startswith(_CLEANING)
    return Cost(charge.id, said[f"charge.{charge.id}.name"], language, low, high, of_the_return)


def _checklist(sheet: BuildSheet) -> tuple[str, ...]:
    has = {
        _FUEL[sheet.powered_by]: True,
        "do_water": sheet.tank("grey") is not None,
        "do_cassette": sheet.tank("cassette") is not None,
        "do_gas": sheet.gas is not None,
        "do_kit": True,
        "do_clean": True,
        "do_lost": True,
        "do_marks": True,
    }
    return tuple(key for key, holds in has.items() if holds)
