"""A shop's one workbook of five sheets, 300 rows in all, brought into empty books by hand in a browser; and a file on a phone."""

import random
from datetime import date

from kits.codes import draw_code
from kits.models import Kit, Sensor, User, Wiring
from sites.models import Customer, Party, Site, Unit
from tests import make
from tests.browser import hands
from tests.browser.conftest import Screen
from tests.reports.spreadsheets import book_of

TAPE = ("red", "bu", "Gray", "green", "white")


def shop_book() -> bytes:
    """What an office keeps: a title above the headings, odd headings, Excel dates, IEC codes and names of colours mixed."""
    chance = random.Random(7)
    codes = [draw_code(chance) for _ in range(20)]
    people = [[f"José Núñez {i}", f"(201) 555-{i:04}", f"p{i}@example.com", "dog" if i % 7 == 0 else None] for i in range(60)]  # fmt: skip
    houses = [[f"José Núñez {i}", f"{i} Elm St", "Faketown", "NJ", f"07{i:03}", "owner", "Eastern"] for i in range(60)]  # fmt: skip
    units = [
        [f"{i} Elm St", f"07{i:03}", "Upstairs system", ("AHU", "Heat pump")[i % 2], "2.5"] for i in range(60)
    ]
    kits = [[code, f"Kit {i + 1}", date(2026, 3, 1 + i), 185.5, 5] for i, code in enumerate(codes)]
    leads = [
        [make.rom(1000 + i), str(i % 5 + 1), TAPE[i % 5], 10, codes[i // 5], i % 5 + 1] for i in range(100)
    ]
    return book_of(
        Customers=[["Our customers"], [], ["Client", "Tel.", "E-Mail", "Comments"], *people],
        Sites=[["Owner", "Service Address", "City", "ST", "Zip", "Role", "Time zone"], *houses],
        Units=[["Address", "Zip", "System", "Type", "Tons"], *units],
        Kits=[["Label", "Kit name", "Date built", "Cost ($)", "Terminals"], *kits],
        Sensors=[["ROM ID", "Tape", "Color", "Lead (ft)", "Kit", "Port"], *leads],
    )


def choose(screen: Screen, name: str, content: bytes) -> None:
    file = {"name": name, "mimeType": "application/octet-stream", "buffer": content}
    screen.page.locator("[name=file]").set_input_files(file)


def test_an_empty_shop_is_filled_from_one_workbook(desktop: Screen, office: User) -> None:
    make.shop()
    desktop.sign_in(office)
    desktop.open("/customers/")
    page, book = desktop.page, shop_book()
    hands.follow(page, "From a spreadsheet")
    assert desktop.barriers() == []
    for number, (kind, rows) in enumerate(
        {"customers": 60, "sites": 60, "units": 60, "kits": 20, "sensors": 100}.items()
    ):
        if number:
            hands.follow(page, f"Go on with the {kind}")
        choose(desktop, "shop.xlsx", book)
        hands.press(page, "Look at the rows")
        assert desktop.barriers() == []
        hands.press(page, f"Put {rows} rows into the books")
        assert f"are in: {rows} new, 0 changed" in page.locator("h1").inner_text()
    models = (Customer, Site, Unit, Kit, Sensor)
    assert [model._default_manager.count() for model in models] == [60, 60, 60, 20, 100]
    assert (Party.objects.filter(part="owns").count(), Wiring.objects.count()) == (60, 100)


def test_a_file_is_looked_at_on_a_phone(phone: Screen, office: User) -> None:
    make.shop()
    phone.sign_in(office)
    phone.open("/import/?kind=customers")
    choose(
        phone,
        "people.csv",
        b"Wer,Phone,Mail\nAna Diaz with a name that is as long as names get,201 555 0101,nonsense\n",
    )
    hands.press(phone.page, "Look at the rows")
    hands.fill(phone.page, {"column_0": "name"})
    hands.press(phone.page, "Read it this way")
    assert "“nonsense” is no e-mail address." in phone.page.get_by_role("main").inner_text()
    phone.page.get_by_text("Which column holds what").click()
    assert phone.barriers() == []
    assert phone.overflow_px() == 0
