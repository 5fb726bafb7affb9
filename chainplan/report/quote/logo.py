"""The workshop's own picture at the head of quotes: upright, in plain colours, as large as fits."""

from __future__ import annotations

from chainplan.frozen import frozen

ROOM_MM = (60.0, 22.0)
"""Room for it: width and height."""
MOST_DOTS = 1400
"""Dots along its longer side: 600 an inch at the size of the room."""


@frozen
class Logo:
    """A picture as it is printed."""

    content: bytes  # PNG
    wide_mm: float
    high_mm: float


def make_logo(content: bytes) -> Logo:
    """Turn a picture file of the user's upright, bring it into plain colours, and fit it in.

    Cameras write pictures lying and say which way to turn them; scanners write 16 bits of grey,
    printers four colours. Palettes and see-through places stay as they look.
    """
    from io import BytesIO

    from PIL import Image, ImageOps

    with Image.open(BytesIO(content)) as file:
        turned = ImageOps.exif_transpose(file)
        picture = turned if turned is not None else file
        if picture.mode.startswith("I"):
            picture = picture.convert("I").point(lambda level: level / 256).convert("L")
        through = "A" in picture.getbands() or "transparency" in picture.info
        plain = picture.convert("RGBA" if through else "RGB")
        plain.thumbnail((MOST_DOTS, MOST_DOTS))
    out = BytesIO()
    plain.save(out, format="PNG")
    scale = min(ROOM_MM[0] / plain.width, ROOM_MM[1] / plain.height)
    return Logo(content=out.getvalue(), wide_mm=plain.width * scale, high_mm=plain.height * scale)
