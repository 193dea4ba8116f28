"""Photos that people upload: known by their content, freed of where and by whom they were taken, nothing decoded.

A picture is read chunk by chunk (JPEG: ISO/IEC 10918-1 annex B, PNG: ISO/IEC 15948, WebP: RFC 9649). What describes
it besides its pixels is left out, of a JPEG all but which way is up.
"""

from __future__ import annotations

import hashlib
import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass

from keyhook.errors import BadInput

LARGEST_BYTES = 4 * 1024 * 1024
MOST_PIXELS = 50_000_000
_PNG = b"\x89PNG\r\n\x1a\n"
_PNG_KEPT = frozenset({b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"sRGB", b"cHRM", b"iCCP"})
_WEBP_KEPT = frozenset({b"VP8X", b"VP8 ", b"VP8L", b"ALPH", b"ICCP"})
#: Markers of JPEG that begin a frame, with its size, but for three that only look alike.
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_MARK, _SCAN, _END, _EXIF = 0xFF, 0xDA, 0xD9, 0xE1
#: Segments of applications and comments; those of colour (profile, Adobe) belong to the pixels.
_DESCRIBES = frozenset({*range(0xE1, 0xF0), 0xFE}) - {0xE2, 0xEE}
#: In the data of a scan the mark stands only before nought and the restart markers.
_AFTER_SCAN = re.compile(rb"\xff(?![\x00\xd0-\xd7\xff])", re.DOTALL)
_ORIENTATION = 0x0112
_WHAT_TO_DO = "Take a photo as JPEG, PNG or WebP"


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo freed of its descriptions: media type, bytes, size [px] and the SHA-256 of the bytes."""

    kind: str
    content: bytes
    width: int
    height: int

    @property
    def digest(self) -> str:
        """SHA-256 of the content, hexadecimal."""
        return hashlib.sha256(self.content).hexdigest()


def read_picture(content: bytes) -> Picture:
    """Return a photo by its content, whatever its name said.

    Raises
    ------
    BadInput
        It is too large, or no JPEG, PNG or WebP, or cut off.
    """
    if len(content) > LARGEST_BYTES:
        seen = f"{len(content) / 1024 / 1024:.1f} MB"
        raise BadInput("The photo is too large", seen=seen, todo=f"Send one of at most {LARGEST_BYTES // 1024**2} MB")
    try:
        picture = _read(content)
    except (struct.error, IndexError, ValueError):
        raise BadInput("The photo is cut off or damaged", todo=_WHAT_TO_DO) from None
    if not 0 < picture.width * picture.height <= MOST_PIXELS:
        seen = f"{picture.width} x {picture.height} pixels"
        raise BadInput("The photo has no size that can be shown", seen=seen, todo=_WHAT_TO_DO)
    return picture


def _read(content: bytes) -> Picture:
    if content.startswith(b"\xff\xd8\xff"):
        return _jpeg(content)
    if content.startswith(_PNG):
        return _png(content)
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return _webp(content)
    raise BadInput("This is no photo that a phone can show", seen=repr(content[:8])[2:-1], todo=_WHAT_TO_DO)


def _jpeg(content: bytes) -> Picture:
    kept, size = [content[:2]], (0, 0)
    for marker, segment in _segments(content):
        if marker in _FRAMES:
            size = struct.unpack(">HH", segment[5:9])
        if marker == _EXIF and (turn := _orientation(segment[4:])) > 1:
            kept.append(_only_orientation(turn))
        if marker not in _DESCRIBES:
            kept.append(segment)
    return Picture("image/jpeg", b"".join(kept), size[1], size[0])


def _segments(content: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield each marker of a JPEG with its segment, a scan with all its data, to the end of the image."""
    at = 2
    while True:
        mark, marker = content[at : at + 2]
        if mark != _MARK:
            raise ValueError
        if marker == _END:
            yield marker, content[at : at + 2]
            return
        end = at + 2 + struct.unpack(">H", content[at + 2 : at + 4])[0]
        if marker == _SCAN:
            found = _AFTER_SCAN.search(content, end)
            if found is None:
                raise ValueError
            end = found.start()
        yield marker, content[at:end]
        at = end


def _orientation(exif: bytes) -> int:
    """Return which way is up, 1 to 8 as Exif numbers it; 1 when it does not say."""
    if not exif.startswith(b"Exif\0\0"):
        return 1
    body = exif[6:]
    order = ">" if body[:2] == b"MM" else "<"
    start = struct.unpack(f"{order}I", body[4:8])[0]
    count = struct.unpack(f"{order}H", body[start : start + 2])[0]
    for n in range(min(count, 64)):
        at = start + 2 + 12 * n
        if struct.unpack(f"{order}H", body[at : at + 2])[0] == _ORIENTATION:
            turn: int = struct.unpack(f"{order}H", body[at + 8 : at + 10])[0]
            return turn if 1 <= turn <= 8 else 1  # noqa: PLR2004  # the eight of Exif
    return 1


def _only_orientation(turn: int) -> bytes:
    body = b"Exif\0\0MM\0*\0\0\0\x08" + struct.pack(">HHHIHHI", 1, _ORIENTATION, 3, 1, turn, 0, 0)
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body


def _png(content: bytes) -> Picture:
    kept, at, size = [_PNG], len(_PNG), (0, 0)
    while at < len(content):
        length, name = struct.unpack(">I4s", content[at : at + 8])
        chunk = content[at : at + 12 + length]
        if len(chunk) < 12 + length:
            raise ValueError
        if name == b"IHDR":
            size = struct.unpack(">II", chunk[8:16])
        if name in _PNG_KEPT:
            kept.append(chunk)
        at += 12 + length
        if name == b"IEND":
            return Picture("image/png", b"".join(kept), *size)
    raise ValueError


def _webp(content: bytes) -> Picture:
    kept, at, size = [], 12, (0, 0)
    while at + 8 <= len(content):
        name, length = struct.unpack("<4sI", content[at : at + 8])
        body = content[at + 8 : at + 8 + length]
        if len(body) < length:
            raise ValueError
        size = size if any(size) else _webp_size(name, body)
        if name == b"VP8X":
            body = bytes([body[0] & ~0b1100]) + body[1:]  # neither Exif nor XMP follows any more
        if name in _WEBP_KEPT:
            kept.append(struct.pack("<4sI", name, length) + body + b"\0" * (length % 2))
        at += 8 + length + length % 2
    inner = b"WEBP" + b"".join(kept)
    return Picture("image/webp", b"RIFF" + struct.pack("<I", len(inner)) + inner, *size)


def _webp_size(name: bytes, body: bytes) -> tuple[int, int]:
    if name == b"VP8X":
        return 1 + int.from_bytes(body[4:7], "little"), 1 + int.from_bytes(body[7:10], "little")
    if name == b"VP8 ":
        width, height = struct.unpack("<HH", body[6:10])
        return width & 0x3FFF, height & 0x3FFF
    if name == b"VP8L":
        bits = int.from_bytes(body[1:5], "little")
        return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
    return 0, 0
