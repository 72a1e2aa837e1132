"""A printed QR symbol worn, dirtied or scratched, then seen by a phone: seeded, one single frame a trial.

What qr_damage.json says of the way its figures were made: 16 camera pixels a millimetre, blur of sigma 1 pixel, noise of
sigma 4, contrast 0.8, turned by up to 10 degrees either way; spots of 0.24 to 1.0 mm over a fraction of the symbol's area;
one lost square away from the finders; part of one finder; lines of 0.2 mm right across. Where it leaves something open,
we chose what gives its figures for its own symbols (test_worn_labels holds that): a spot lies wholly within the symbol,
spots are counted by the area they cover together, the lost square lies in the corner without a finder.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from zlib import crc32

import numpy as np
import zxingcpp
from PIL import Image, ImageDraw, ImageFilter

PIXELS_PER_MM = 16
LIGHT, DARK = 255, 0


@dataclass(frozen=True)
class Print:
    """A symbol as it lies on its label: grey pixels at camera scale, and where its modules are in them."""

    picture: Image.Image
    left: int
    top: int
    side: int
    modules: int

    @classmethod
    def of_dots(cls, dots: np.ndarray, left: int, top: int, side: int, *, modules: int, dpi: int) -> Print:
        """From printer dots: the symbol at (left, top), with six modules of what stands around it."""
        margin = 6 * side // modules
        around = np.pad(dots, margin, constant_values=LIGHT)
        cropped = around[top : top + side + 2 * margin, left : left + side + 2 * margin]
        scale = PIXELS_PER_MM * 25.4 / dpi
        length = round(cropped.shape[0] * scale)
        picture = Image.fromarray(cropped).resize((length, length), Image.Resampling.BICUBIC)
        start = round(margin * scale)
        return cls(picture, start, start, round(side * scale), modules)

    @classmethod
    def of_modules(cls, symbol: list[list[bool]], module_mm: float) -> Print:
        """A symbol by itself, with its four clear modules."""
        modules = len(symbol)
        side, quiet = round(modules * module_mm * PIXELS_PER_MM), round(4 * module_mm * PIXELS_PER_MM)
        picture = Image.new("L", (side + 2 * quiet,) * 2, LIGHT)
        dots = Image.fromarray(np.where(np.array(symbol), DARK, LIGHT).astype(np.uint8))
        picture.paste(dots.resize((side, side), Image.Resampling.NEAREST), (quiet, quiet))
        return cls(picture, quiet, quiet, side, modules)


def decoded(printed: Print, text: str, damage: str, trials: int) -> int:
    """In how many of so many trials the reader gives the text; `damage` is a figure's name, such as "blob:0.04"."""
    kind, amount = damage.split(":")
    return sum(
        text in seen(printed, kind, float(amount), np.random.default_rng([crc32(damage.encode()), number]))
        for number in range(trials)
    )


def seen(printed: Print, kind: str, amount: float, chance: np.random.Generator) -> list[str]:
    """The texts a reader finds in one frame of a damaged print."""
    picture = printed.picture.copy()
    match kind:
        case "none":
            pass
        case "blob":
            spots(picture, printed, amount, LIGHT, chance)
        case "smear":
            spots(picture, printed, amount, DARK, chance)
        case "patch":
            side = math.sqrt(amount) * printed.side
            square(picture, printed, printed.side - side, printed.side - side, side)
        case "corner":
            side = amount * 7 / printed.modules * printed.side
            far = printed.side - side
            x, y = ((0.0, 0.0), (far, 0.0), (0.0, far))[chance.integers(3)]
            square(picture, printed, x, y, side)
        case "scratch":
            scratches(picture, printed, int(amount), chance)
        case _:
            raise ValueError(f"No such damage: {kind}")
    return [code.text for code in zxingcpp.read_barcodes(photographed(picture, chance))]


def spots(picture: Image.Image, printed: Print, share: float, grey: int, chance: np.random.Generator) -> None:
    """Round spots until they cover a share of the symbol."""
    covered = np.zeros((printed.side, printed.side), dtype=bool)
    left_to_cover = share * covered.size
    while left_to_cover > 0:
        radius = chance.uniform(0.24, 1.0) * PIXELS_PER_MM / 2
        x, y = chance.uniform(radius, printed.side - radius, 2)
        rows = slice(math.floor(y - radius), math.ceil(y + radius) + 1)
        columns = slice(math.floor(x - radius), math.ceil(x + radius) + 1)
        down, across = np.ogrid[rows, columns]
        box = covered[rows, columns]
        spot = ((down - y) ** 2 + (across - x) ** 2 <= radius**2)[: box.shape[0], : box.shape[1]]
        left_to_cover -= np.count_nonzero(spot & ~box)
        box |= spot
    picture.paste(grey, (printed.left, printed.top), Image.fromarray(covered))


def square(picture: Image.Image, printed: Print, x: float, y: float, side: float) -> None:
    x, y = x + printed.left, y + printed.top
    ImageDraw.Draw(picture).rectangle((x, y, x + side, y + side), fill=LIGHT)


def scratches(picture: Image.Image, printed: Print, count: int, chance: np.random.Generator) -> None:
    """Lines of 0.2 mm from one edge of the symbol to the opposite one."""
    draw, side, beyond = ImageDraw.Draw(picture), printed.side, 5
    for _ in range(count):
        one, other = chance.uniform(0, side, 2)
        line = [(-beyond, one), (side + beyond, other)]
        if chance.random() < 0.5:
            line = [(y, x) for x, y in line]
        moved = [(x + printed.left, y + printed.top) for x, y in line]
        draw.line(moved, fill=LIGHT, width=round(0.2 * PIXELS_PER_MM))


def photographed(picture: Image.Image, chance: np.random.Generator) -> np.ndarray:
    """What the camera makes of it."""
    turned = picture.rotate(
        chance.uniform(-10, 10), Image.Resampling.BICUBIC, expand=True, fillcolor=LIGHT
    ).filter(ImageFilter.GaussianBlur(1))
    grey = (np.asarray(turned, dtype=float) - 127.5) * 0.8 + 127.5
    return np.clip(grey + chance.normal(0, 4, grey.shape), 0, 255).astype(np.uint8)
