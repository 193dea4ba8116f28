"""Amounts and factors in a tariff: exact decimals, written as whole numbers or as text, never as floats."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Annotated

from pydantic import BeforeValidator, WithJsonSchema

#: Up to seven digits and three decimals: enough for every currency of :data:`keyhook.money.MINOR_DIGITS`.
EXACT = r"^\d{1,7}(\.\d{1,3})?$"


def exact_amount(value: object) -> Decimal:
    """Return the decimal that a whole number or a text such as ``19.50`` says, digits kept as written.

    Raises
    ------
    ValueError
        The value is a float (which cannot hold pence exactly), or no such number.
    """
    if isinstance(value, Decimal) or (isinstance(value, int) and not isinstance(value, bool)):
        value = str(value)
    if isinstance(value, str) and re.fullmatch(EXACT, value):
        return Decimal(value)
    raise ValueError('an exact amount is a whole number or text between quotes, for example 19 or "19.50"')


Amount = Annotated[
    Decimal,
    BeforeValidator(exact_amount),
    WithJsonSchema({"anyOf": [{"type": "integer", "minimum": 0}, {"type": "string", "pattern": EXACT}]}),
]
