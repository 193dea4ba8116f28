"""What this depot has learnt of a teach point: how often it came back as a call or a charge, against the catalogue."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from keyhook.basis import Basis, Because, Figure, Input
from keyhook.catalogue import Catalogue
from keyhook.depot.depot import Counted

#: The catalogue is believed like so many calls and charges counted here (assumption): one bad week moves little.
CATALOGUE_COUNTS = 2.0


@dataclass(frozen=True, slots=True)
class Learnt:
    """One teach point as the catalogue assumes it and as it was counted here.

    ``assumed_share`` of hires go wrong although their party was told, by the catalogue; in the hires that were
    counted that makes ``expected``. ``factor`` is how many times as often it is taken to go wrong here.
    """

    point: str
    counted: Counted
    assumed_share: float
    expected: float
    factor: Figure

    @property
    def counted_share(self) -> float | None:
        """Share of the hires counted in which it went wrong; None while none were."""
        return self.counted.harmed / self.counted.hires if self.counted.hires else None

    @property
    def taken_share(self) -> float:
        """Share of hires in which every tour takes it to go wrong here although it was told."""
        return self.assumed_share * float(self.factor.value)


def learnt_of(name: str, counted: Counted | None, catalogue: Catalogue) -> Learnt:
    """Return what is learnt of a point; nothing counted leaves the catalogue as it is.

    Those who were counted had been told, so the catalogue expects ``hires x miss x bite x told``. The factor is the
    mean of a rate that had a gamma distribution with mean 1 before the counting (source ``gamma-poisson``).

    Raises
    ------
    UnknownName
        A point that the catalogue has not got.
    """
    point, counted = catalogue.teach_point(name), counted or Counted(hires=0, harmed=0)
    told_factor = catalogue.scales.told_factor
    assumed_share = point.miss_share * point.bite_share * told_factor
    expected = counted.hires * assumed_share
    factor = (CATALOGUE_COUNTS + counted.harmed) / (CATALOGUE_COUNTS + expected)
    inputs = (
        Input("get it wrong when not told", point.miss_share, "share", "catalogue", Basis.COMMON_PRACTICE),
        Input("of those, come to harm", point.bite_share, "share", "catalogue", Basis.COMMON_PRACTICE),
        Input("still wrong after telling", told_factor, "share", "catalogue", Basis.COMMON_PRACTICE),
        Input("hires counted, party told", counted.hires, "", "", Basis.MEASURED),
        Input("came back as a call or a charge", counted.harmed, "", "", Basis.MEASURED),
        Input("expected: hires x miss x bite x still wrong", expected, "", "catalogue", Basis.COMMON_PRACTICE),
        Input("the catalogue counts like so many", CATALOGUE_COUNTS, "", "", Basis.ASSUMPTION),
    )
    formula = "(catalogue counts + came back) / (catalogue counts + expected)"
    because = Because(formula, inputs, Basis.MEASURED if counted.hires else Basis.COMMON_PRACTICE, "gamma-poisson")
    shown = Figure("learnt_factor", "Weighs in every tour", factor, "times", because)
    return Learnt(name, counted, assumed_share, expected, shown)


def learnt_factors(counted: Mapping[str, Counted], catalogue: Catalogue) -> dict[str, float]:
    """Return by point how many times as often it goes wrong here as the catalogue says, drawn towards 1.

    Parameters
    ----------
    counted
        By teach point: hires whose vehicle had the fitting, and in how many of them it went wrong.

    Raises
    ------
    UnknownName
        A point that the catalogue has not got.
    """
    return {name: float(learnt_of(name, one, catalogue).factor.value) for name, one in counted.items()}
