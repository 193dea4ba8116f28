"""Codes that a phone's camera opens."""

from __future__ import annotations

import io
from functools import lru_cache

import segno

#: Modules of white round the code, as ISO/IEC 18004 asks for.
QUIET_ZONE = 4
#: Pixels a module: enough that a viewer which smooths pictures leaves its edges alone.
_PIXELS = 6


@lru_cache(maxsize=4096)  # finding the best mask takes longer than setting the whole sheet
def code_picture(address: str) -> bytes:
    """Return the QR code of an address as PNG, its quiet zone included; up to 15 % of it may be dirty."""
    picture = io.BytesIO()
    segno.make_qr(address, error="m").save(picture, kind="png", border=QUIET_ZONE, scale=_PIXELS)
    return picture.getvalue()
