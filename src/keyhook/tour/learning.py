"""What this depot has learnt of a teach point: how often it came back as a call or a charge, against the catalogue."""

from __future__ import annotations

from collections.abc import Mapping

from keyhook.catalogue import Catalogue
from keyhook.depot.depot import Counted

#: The catalogue is believed like so many calls and charges counted here (assumption): one bad week moves little.
CATALOGUE_COUNTS = 2.0


def learnt_factors(counted: Mapping[str, Counted], catalogue: Catalogue) -> dict[str, float]:
    """Return by point how many times as often it goes wrong here as the catalogue says, drawn towards 1.

    Those who were counted had been told, so the catalogue expects ``hires x miss x bite x told``. The answer is the
    mean of a rate that had a gamma distribution with mean 1 before the counting (source ``gamma-poisson``).

    Parameters
    ----------
    counted
        By teach point: hires whose vehicle had the fitting, and in how many of them it went wrong.

    Raises
    ------
    UnknownName
        A point that the catalogue has not got.
    """
    return {name: _factor(one, catalogue, name) for name, one in counted.items()}


def _factor(one: Counted, catalogue: Catalogue, name: str) -> float:
    point = catalogue.teach_point(name)
    expected = one.hires * point.miss_share * point.bite_share * catalogue.scales.told_factor
    return (CATALOGUE_COUNTS + one.harmed) / (CATALOGUE_COUNTS + expected)
