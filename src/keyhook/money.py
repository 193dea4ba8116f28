"""Exact money: an amount in whole minor units of one currency, never a float."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from keyhook.errors import BadInput

#: Minor-unit digits, source key ``iso-4217-minor-units`` in docs/sources.toml.
MINOR_DIGITS = {"GBP": 2, "EUR": 2, "USD": 2, "CHF": 2, "JPY": 0, "BHD": 3}


@dataclass(frozen=True, slots=True, order=True)
class Money:
    """An exact amount.

    Parameters
    ----------
    currency
        ISO 4217 code.
    minor
        Amount in minor units (pence, cents), whole, may be negative.
    """

    currency: str
    minor: int

    @classmethod
    def of(cls, amount: Decimal | int | str, currency: str) -> Money:
        """Return the amount given in major units, rounded half away from zero once.

        Raises
        ------
        BadInput
            The currency is not in :data:`MINOR_DIGITS`, or the amount is a float.
        """
        if isinstance(amount, float):
            raise BadInput("Money cannot start from a float", seen=amount, todo="Pass text, an int or a Decimal")
        if currency not in MINOR_DIGITS:
            raise BadInput("Unknown currency", seen=currency, todo=f"Use one of {', '.join(MINOR_DIGITS)}")
        step = Decimal(10) ** MINOR_DIGITS[currency]
        return cls(currency, int((Decimal(amount) * step).quantize(Decimal(1), ROUND_HALF_UP)))

    def __add__(self, other: Money) -> Money:
        """Return the sum; both must have one currency."""
        if self.currency != other.currency:
            raise BadInput("Two currencies cannot be added", seen=f"{self.currency} and {other.currency}")
        return Money(self.currency, self.minor + other.minor)

    def __str__(self) -> str:
        """Return code and amount with the currency's digits, for example ``GBP 80.68``."""
        digits = MINOR_DIGITS[self.currency]
        return f"{self.currency} {Decimal(self.minor).scaleb(-digits):.{digits}f}"
