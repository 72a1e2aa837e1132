"""Pictures people hand in: decoded, checked and written anew, so that only pixels are ever kept (no Django here)."""

import io
import warnings

from PIL import Image, ImageOps, UnidentifiedImageError

MOST_PIXELS = 40_000_000
MOST_BYTES = 8 * 1024 * 1024
LOGO_BOX = (900, 300)


class BadPicture(ValueError):
    """The file is no picture we take; the message says what to do instead."""


def logo_png(data: bytes) -> bytes:
    """The picture in `data` (JPEG, PNG or WebP) as a PNG that fits the head of a paper, without its metadata."""
    if len(data) > MOST_BYTES:
        raise BadPicture("This picture is larger than 8 MB. Make it smaller and send it again.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=["JPEG", "PNG", "WEBP"]) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    raise BadPicture("This picture has more than 40 million pixels. Make it smaller.")
                upright = ImageOps.exif_transpose(picture).convert("RGBA")
    except (
        UnidentifiedImageError,
        OSError,
        SyntaxError,
        ValueError,
        Image.DecompressionBombWarning,
    ) as broken:
        if isinstance(broken, BadPicture):
            raise
        raise BadPicture("This file is no picture we can read. Send a JPEG, PNG or WebP.") from broken
    except Image.DecompressionBombError as bomb:
        raise BadPicture("This picture has far too many pixels. Make it smaller.") from bomb
    upright.thumbnail(LOGO_BOX)
    written = io.BytesIO()
    upright.save(written, "PNG", optimize=True)
    return written.getvalue()
