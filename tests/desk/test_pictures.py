"""Photos: known by their content, freed of place and maker, pixels untouched, as an imaging library sees them."""

from __future__ import annotations

import hashlib
import io

import pytest
from PIL import Image

from keyhook.errors import BadInput
from keyhook_desk.web.pictures import LARGEST_BYTES, read_picture

ORIENTATION, MAKER, GPS = 0x0112, 0x010F, 0x8825  # Exif 2.32, tables 4 and 15
KINDS = [
    ("JPEG", {}, "image/jpeg"),
    ("JPEG", {"progressive": True}, "image/jpeg"),
    ("PNG", {}, "image/png"),
    ("WEBP", {}, "image/webp"),
    ("WEBP", {"lossless": True}, "image/webp"),
]


def _photo(kind="JPEG", size=(120, 80), **how):
    image = Image.effect_noise(size, 60).convert("RGB")
    told = Image.Exif()
    told[ORIENTATION], told[MAKER] = 6, "Invented Camera"
    told.get_ifd(GPS).update({1: "N", 2: (51.0, 3.0, 4.0)})
    body = io.BytesIO()
    image.save(body, kind, exif=told, **how)
    return body.getvalue()


def _pixels(content):
    image = Image.open(io.BytesIO(content))
    image.load()
    return image.tobytes()


@pytest.mark.parametrize(("kind", "how", "media"), KINDS)
def test_pixels_stay_and_where_it_was_taken_goes(kind, how, media):
    raw = _photo(kind, **how)
    assert b"Invented Camera" in raw
    picture = read_picture(raw)
    assert (picture.kind, picture.width, picture.height) == (media, 120, 80)
    assert _pixels(picture.content) == _pixels(raw)
    told = Image.open(io.BytesIO(picture.content)).getexif()
    assert set(told) <= {ORIENTATION}
    assert not told.get_ifd(GPS)
    assert b"Invented Camera" not in picture.content
    assert picture.digest == hashlib.sha256(picture.content).hexdigest()


def test_a_jpeg_keeps_which_way_is_up():
    assert Image.open(io.BytesIO(read_picture(_photo()).content)).getexif()[ORIENTATION] == 6


def test_what_hangs_behind_the_picture_is_cut_off():
    assert b"a film of where we were" not in read_picture(_photo() + b"a film of where we were").content


@pytest.mark.parametrize(("kind", "how", "media"), KINDS)
@pytest.mark.parametrize("share", [0.02, 0.3, 0.7, 0.99])
def test_a_photo_cut_off_is_refused_in_one_sentence(kind, how, media, share):
    raw = _photo(kind, **how)
    with pytest.raises(BadInput) as refused:
        read_picture(raw[: int(len(raw) * share)])
    assert str(refused.value).endswith("Take a photo as JPEG, PNG or WebP")


@pytest.mark.parametrize("content", [b"", b"GIF89a" + b"\0" * 50, b"<svg onload='x'/>", b"%PDF-1.7", b"\xff\xd8\xff"])
def test_what_is_no_photo_is_refused(content):
    with pytest.raises(BadInput):
        read_picture(content)


def test_a_photo_too_large_says_how_large_it_may_be():
    with pytest.raises(BadInput, match="at most 4 MB"):
        read_picture(b"\xff\xd8\xff" + b"\0" * LARGEST_BYTES)
