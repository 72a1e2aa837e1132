"""Labels printed at true size and read back by a reader that is not ours.

The pages go through poppler's pdftoppm at the dots of real printers, the symbols through zxing-cpp. Geometry of the stock,
capacities, quiet zone and module sizes with their sources: label_stock.json beside this file.
"""

from __future__ import annotations

import json
import subprocess
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from reports.papers.records import KitLabel, SensorFlag
from reports.papers.sheets import LETTER_30, STOCKS, TAPE_24, labels_pdf
from reports.papers.stock import LabelStock
from tests.reports.paper_samples import FLAGS, kit_labels

pytestmark = pytest.mark.outside

TABLE = json.loads((Path(__file__).parent / "label_stock.json").read_text(encoding="utf-8"))
QR = TABLE["qr"]
QUIET = QR["quiet_modules"]
MM_PER_INCH = 25.4

LONG_HOST = "KITS.EXAMPLE.COM"  # 33 characters in all: version 3
SHORT_HOST = "KP.EXAMPLE"  # 27 characters in all: version 2


@dataclass(frozen=True)
class Read:
    """A symbol as the reader found it on a page: where its modules begin, in pixels, and how many there are."""

    text: str
    version: int
    level: str
    left: int
    top: int
    side: int


def printed(pdf: bytes, dpi: int, folder: Path) -> list[np.ndarray]:
    """The pages as grey pixels, one a printer dot."""
    source = folder / "labels.pdf"
    source.write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", source, folder / "page"], check=True)
    return [np.asarray(Image.open(page)) for page in sorted(folder.glob("page*.pgm"))]


def read(page: np.ndarray) -> list[Read]:
    """Every symbol on a page; its place is corrected to the outermost dark pixels near where the reader put it."""
    found = []
    for code in zxingcpp.read_barcodes(Image.fromarray(page)):
        corners = code.position
        left, right = corners.top_left.x, corners.top_right.x
        top, bottom = corners.top_left.y, corners.bottom_left.y
        near = page[top - 3 : bottom + 4, left - 3 : right + 4] < 128
        rows, columns = np.flatnonzero(near.any(axis=1)), np.flatnonzero(near.any(axis=0))
        found.append(
            Read(
                text=code.text,
                version=int(code.extra["Version"]),
                level=code.extra["ECLevel"],
                left=int(left - 3 + columns[0]),
                top=int(top - 3 + rows[0]),
                side=int(columns[-1] - columns[0] + 1),
            )
        )
    return found


# ---------------------------------------------------------------- the stock itself


@pytest.mark.parametrize("row", TABLE["sheets"], ids=lambda row: row["key"])
def test_a_sheet_has_the_published_geometry_and_fills_its_page(row: dict[str, Any]) -> None:
    stock = STOCKS[row["key"]]
    assert (stock.columns, stock.rows) == (row["columns"], row["rows"])
    ours = (
        stock.page_width_mm,
        stock.page_height_mm,
        stock.label_width_mm,
        stock.label_height_mm,
        stock.left_mm,
        stock.top_mm,
        stock.pitch_x_mm,
        stock.pitch_y_mm,
    )
    published = (*row["page"], *row["label"], row["left"], row["top"], *row["pitch"])
    assert ours == pytest.approx([length * MM_PER_INCH for length in published])
    last_x, last_y = stock.corner_mm(stock.count - 1)
    assert last_x + stock.label_width_mm + row["right"] * MM_PER_INCH == pytest.approx(stock.page_width_mm)
    assert last_y + stock.label_height_mm + row["bottom"] * MM_PER_INCH == pytest.approx(stock.page_height_mm)


@pytest.mark.parametrize("row", TABLE["tapes"], ids=lambda row: row["key"])
def test_a_tape_prints_only_where_its_head_reaches(row: dict[str, Any]) -> None:
    stock = STOCKS[row["key"]]
    assert (stock.label_height_mm, stock.dpi) == (row["width_mm"], row["dpi"])
    assert stock.inset_y_mm == pytest.approx(row["unprinted_each_side_mm"])
    assert row["print_dots"] * MM_PER_INCH / row["dpi"] == pytest.approx(row["print_mm"], abs=0.001)


def test_the_page_of_a_sheet_has_the_size_of_the_paper() -> None:
    for stock, width, height in ((LETTER_30, 8.5 * 72, 11 * 72), (TAPE_24, None, 24 / MM_PER_INCH * 72)):
        page = PdfReader(BytesIO(labels_pdf(kit_labels(1), stock))).pages[0]
        assert float(page.mediabox.height) == pytest.approx(height, abs=0.01)
        if width:
            assert float(page.mediabox.width) == pytest.approx(width, abs=0.01)


# ---------------------------------------------------------------- read back


CASES = [
    pytest.param(stock, host, version, dpi, id=f"{stock.key}, version {version}, {dpi} dpi")
    for stock, all_dpi in ((LETTER_30, (203, 300)), (TAPE_24, (180, 203, 300, 360)))
    for host, version in ((SHORT_HOST, 2), (LONG_HOST, 3))
    for dpi in all_dpi
]


@pytest.mark.parametrize(("stock", "host", "version", "dpi"), CASES)
def test_every_label_reads_back_as_its_text(
    stock: LabelStock, host: str, version: int, dpi: int, tmp_path: Path
) -> None:
    labels = kit_labels(30 if stock is LETTER_30 else 3, host)
    found = [code for page in printed(labels_pdf(labels, stock), dpi, tmp_path) for code in read(page)]
    assert sorted(code.text for code in found) == sorted(label.text for label in labels)
    assert {(code.version, code.level) for code in found} == {(version, "Q")}


ON_THE_GRID = [
    pytest.param(stock, host, dpi, id=f"{stock.key}, {host}, {dpi} dpi")
    for stock, dpi in ((LETTER_30, 203), (LETTER_30, 300), (TAPE_24, 180), (TAPE_24, 360), (TAPE_24, 300))
    for host in (SHORT_HOST, LONG_HOST)
]


@pytest.mark.parametrize(("stock", "host", "dpi"), ON_THE_GRID)
def test_modules_are_whole_dots_and_four_clear_ones_stand_all_round(
    stock: LabelStock, host: str, dpi: int, tmp_path: Path
) -> None:
    labels = kit_labels(stock.count if stock is LETTER_30 else 3, host)
    for page in printed(labels_pdf(labels, stock, dpi=dpi), dpi, tmp_path):
        for code in read(page):
            modules = QR["modules"][str(code.version)]
            dots, rest = divmod(code.side, modules)
            assert rest == 0, "a module is not a whole number of printer dots"
            assert dots * MM_PER_INCH / dpi >= QR["least_module_mm"]
            assert dots >= 4 or dpi == 180
            symbol = page[code.top : code.top + code.side, code.left : code.left + code.side]
            assert set(np.unique(symbol)) == {0, 255}, "an edge of a module falls between two dots"
            assert np.array_equal(symbol, np.kron(symbol[::dots, ::dots], np.ones((dots, dots), np.uint8)))
            quiet = QUIET * dots
            # a tape may be narrower than its quiet zone: what lies past its edge is white by being past it
            around = np.pad(page, quiet, constant_values=255)
            zone = around[
                code.top : code.top + code.side + 2 * quiet, code.left : code.left + code.side + 2 * quiet
            ]
            zone = zone.copy()
            zone[quiet:-quiet, quiet:-quiet] = 255
            assert zone.min() == 255, f"something is printed in the quiet zone of {code.text}"
            assert zone.shape == (code.side + 2 * quiet,) * 2


@pytest.mark.parametrize("row", QR["module_mm"], ids=lambda row: f"{row['dpi']} dpi")
def test_a_version_3_symbol_has_the_published_module(row: dict[str, Any], tmp_path: Path) -> None:
    stock = TAPE_24 if row["dpi"] == 180 else LETTER_30
    (page,) = printed(labels_pdf(kit_labels(1, LONG_HOST), stock, dpi=row["dpi"]), row["dpi"], tmp_path)
    (code,) = read(page)
    assert code.side == row["dots"] * QR["modules"]["3"]
    assert code.side / QR["modules"]["3"] * MM_PER_INCH / row["dpi"] == pytest.approx(row["mm"], abs=0.0001)


@pytest.mark.parametrize(
    ("length", "version"),
    [
        pytest.param(29, 2, id="29 characters are the most of version 2"),
        pytest.param(30, 3, id="30 need version 3"),
        pytest.param(47, 3, id="47 are the most of version 3"),
        pytest.param(48, 4, id="48 need version 4"),
    ],
)
def test_a_symbol_takes_the_smallest_version_of_the_table(length: int, version: int, tmp_path: Path) -> None:
    capacity = {int(key): value for key, value in QR["level_q_alphanumeric"].items()}
    assert version == min(key for key, most in capacity.items() if length <= most)
    text = "HTTPS://" + "K" * (length - 17) + "/K/7M4Q2P"
    label = KitLabel(code="7M4Q2P", name="Attic kit", shop_phone="(720) 555-0134", text=text)
    (page,) = printed(labels_pdf([label], LETTER_30), 300, tmp_path)
    (code,) = read(page)
    assert (code.text, code.version, code.level) == (text, version, "Q")


# ---------------------------------------------------------------- on the die-cut labels


@pytest.mark.parametrize("dpi", [203, 300])
def test_print_keeps_to_the_labels_and_off_their_edges(dpi: int, tmp_path: Path) -> None:
    labels: list[KitLabel | SensorFlag] = [*kit_labels(20, LONG_HOST), *FLAGS, *FLAGS]
    (page,) = printed(labels_pdf(labels, LETTER_30), dpi, tmp_path)
    row = TABLE["sheets"][0]
    free = TABLE["free_edge_mm"]["value"] / MM_PER_INCH
    outside = page < 250
    for position in range(30):
        line, column = divmod(position, 3)
        x, y = row["left"] + column * row["pitch"][0], row["top"] + line * row["pitch"][1]
        inside = np.s_[
            round((y + free) * dpi) : round((y + row["label"][1] - free) * dpi),
            round((x + free) * dpi) : round((x + row["label"][0] - free) * dpi),
        ]
        assert outside[inside].any(), f"label {position + 1} is empty"
        outside[inside] = False
    assert not outside.any(), "something is printed between the labels"


@pytest.mark.parametrize("start", [1, 4, 30])
def test_printing_starts_at_the_asked_label(start: int, tmp_path: Path) -> None:
    labels = kit_labels(2, LONG_HOST)
    pages = printed(labels_pdf(labels, LETTER_30, start), 203, tmp_path)
    row = TABLE["sheets"][0]
    at = {}
    for number, page in enumerate(pages):
        for code in read(page):
            column = int((code.left / 203 - row["left"]) // row["pitch"][0])
            line = int((code.top / 203 - row["top"]) // row["pitch"][1])
            at[code.text] = number * 30 + line * 3 + column + 1
    assert at == {labels[0].text: start, labels[1].text: start + 1}
