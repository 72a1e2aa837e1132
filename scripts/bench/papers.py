"""Section 3: three hundred labels and the hand-back report, beside the least that such a paper can cost.

Drawing waits for nothing, so it is the processor's time that is taken: what else the machine does does not count.
"""

import subprocess
import time
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

from qrcode.constants import ERROR_CORRECT_Q
from qrcode.main import QRCode
from reportlab.lib.pagesizes import letter
from reportlab.pdfgen.canvas import Canvas

from reports.papers.fonts import SANS
from reports.papers.handback import shop_copy_pdf
from reports.papers.sheets import LETTER_30, labels_pdf
from scripts.bench.timing import Line, in_turn
from tests.reports.paper_samples import STAY, kit_labels

COUNT = 300


def measure() -> list[Line]:
    return labels() + report()


# -- Labels --------------------------------------------------------------------------------------


def labels() -> list[Line]:
    made = kit_labels(COUNT)
    times = in_turn(
        {
            "floor": lambda: bare_labels([label.text for label in made]),
            "product": lambda: labels_pdf(made, LETTER_30),
        },
        clock=time.process_time,
        rounds=7,
        warm=1,
    )
    pdf = labels_pdf(made, LETTER_30)
    unread = COUNT - len({label.text for label in made} & decoded(pdf))
    where = "processor time"
    return [
        Line(
            "3",
            f"{COUNT} kit labels beside fixed mask, one path",
            where,
            times["product"],
            "ms",
            times["floor"],
        ),
        Line("3", f"{COUNT} kit labels", where, times["product"], "ms", None, 300),
        Line("3", f"{COUNT} kit labels, file", where, len(pdf) / 1000, "kB", None, 150),
        Line("3", f"{COUNT} kit labels, not read back at 300 dpi", where, unread, "", None, 0),
    ]


def bare_labels(texts: list[str]) -> bytes:
    """The symbols with a fixed mask as one path each, and their text in three lines: nothing is fitted or checked."""
    out = BytesIO()
    canvas = Canvas(out, pagesize=letter, pageCompression=1)
    for number, text in enumerate(texts):
        if number and number % 30 == 0:
            canvas.showPage()
        column, row = number % 3, number // 3 % 10
        x, y = 20 + column * 198, 36 + row * 72
        maker = QRCode(error_correction=ERROR_CORRECT_Q, border=0, mask_pattern=4)
        maker.add_data(text, optimize=0)
        maker.make(fit=True)
        canvas._code.append(f"q 1.8 0 0 1.8 {x + 120} {y + 4} cm {path_of(maker.modules)} f Q")
        canvas.setFont("Helvetica", 9)
        for line in range(3):
            canvas.drawString(x, y + 12 + 16 * line, text[-6:])
    canvas.save()
    return out.getvalue()


def path_of(modules: list[list[bool]]) -> str:
    """One rectangle for each run of dark modules in a row."""
    side, runs = len(modules), []
    for y, row in enumerate(modules):
        x = 0
        while x < side:
            begin = x
            while x < side and row[x]:
                x += 1
            if x > begin:
                runs.append(f"{begin} {side - 1 - y} {x - begin} 1 re")
            x += 1
    return " ".join(runs)


def decoded(pdf: bytes) -> set[str]:
    """What a reader that is not ours finds on the printed pages."""
    import zxingcpp
    from PIL import Image

    with TemporaryDirectory() as folder:
        source = Path(folder) / "labels.pdf"
        source.write_bytes(pdf)
        subprocess.run(["pdftoppm", "-r", "300", "-gray", str(source), f"{folder}/page"], check=True)
        pages = sorted(Path(folder).glob("page*.pgm"))
        return {code.text for page in pages for code in zxingcpp.read_barcodes(Image.open(page))}


# -- Report --------------------------------------------------------------------------------------


def report() -> list[Line]:
    pdf = shop_copy_pdf(STAY)
    pages = lines_of(pdf)
    times = in_turn(
        {"floor": lambda: bare_report(pages), "product": lambda: shop_copy_pdf(STAY)},
        clock=time.process_time,
        rounds=11,
        warm=1,
    )
    what = f"hand-back report, {len(pages)} pages"
    return [
        Line(
            "3",
            f"{what}, beside the same words on a bare canvas",
            "processor time",
            times["product"],
            "ms",
            times["floor"],
            5,
            True,
        ),
        Line("3", f"{what}, file", "processor time", len(pdf) / 1000, "kB", None, 200),
    ]


def lines_of(pdf: bytes) -> list[list[str]]:
    """The words of each page, line by line."""
    from pypdf import PdfReader

    return [page.extract_text().splitlines() for page in PdfReader(BytesIO(pdf)).pages]


def bare_report(pages: list[list[str]]) -> bytes:
    """The product's own words in its own typeface, one drawString a line with a rule beneath: no layout at all."""
    out = BytesIO()
    canvas = Canvas(out, pagesize=letter, pageCompression=1)
    for lines in pages:
        canvas.setFont(SANS, 9)
        for number, line in enumerate(lines):
            y = 760 - number * 720 / max(len(lines), 1)
            canvas.drawString(48, y, line)
            canvas.line(48, y - 2, 560, y - 2)
        canvas.showPage()
    canvas.save()
    return out.getvalue()
