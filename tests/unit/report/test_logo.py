"""The workshop's own picture on quotes: whatever its file is like, upright and as it looks."""

from __future__ import annotations

from io import BytesIO

import pytest
from PIL import Image

from chainplan.report.quote.logo import MOST_DOTS, ROOM_MM, make_logo


def saved(picture: Image.Image, kind: str = "PNG", **more) -> bytes:
    """Give the bytes of a picture's file."""
    out = BytesIO()
    picture.save(out, format=kind, **more)
    return out.getvalue()


def shown(content: bytes) -> Image.Image:
    """Read what goes onto the page."""
    return Image.open(BytesIO(make_logo(content).content))


@pytest.mark.parametrize("size", [(2000, 120), (90, 1400), (3, 5), (600, 220)])
def test_it_fills_the_room_one_way_and_keeps_its_shape(size):
    """Never larger than the room, never pulled."""
    logo = make_logo(saved(Image.new("RGB", size, "navy")))
    shares = (logo.wide_mm / ROOM_MM[0], logo.high_mm / ROOM_MM[1])
    assert max(shares) == pytest.approx(1.0)
    assert logo.wide_mm / logo.high_mm == pytest.approx(size[0] / size[1], rel=0.02)
    assert max(shown(saved(Image.new("RGB", size))).size) <= MOST_DOTS


def test_a_lying_photograph_is_turned_upright():
    """A camera's note says that its right edge is up: 40 by 20 is 20 by 40."""
    picture = Image.new("RGB", (40, 20), "white")
    picture.paste("red", (0, 0, 10, 20))
    note = picture.getexif()
    note[0x0112] = 6  # to be turned clockwise by a quarter
    upright = shown(saved(picture, "JPEG", exif=note, quality=95))
    assert upright.size == (20, 40)
    assert upright.getpixel((10, 3))[0] > 200 > 100 > upright.getpixel((10, 3))[1]
    assert min(upright.getpixel((10, 35))) > 200


def test_colours_of_printers_scanners_and_palettes_stay_as_they_look():
    """Four colours, 16 bits of grey, a palette, and what is see-through."""
    cmyk = shown(saved(Image.new("RGB", (30, 30), (200, 30, 60)).convert("CMYK"), "JPEG"))
    assert cmyk.getpixel((15, 15)) == pytest.approx((200, 30, 60), abs=12)
    deep = shown(saved(Image.new("I;16", (8, 8), 0x8000)))
    assert deep.getpixel((4, 4)) == (128, 128, 128)
    few = shown(saved(Image.new("RGB", (8, 8), (10, 90, 160)).convert("P")))
    assert few.getpixel((4, 4)) == pytest.approx((10, 90, 160), abs=30)
    through = shown(saved(Image.new("LA", (8, 8), (90, 0))))
    assert through.mode == "RGBA"
    assert through.getpixel((4, 4))[3] == 0
