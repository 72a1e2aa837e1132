"""What the tests of the pages of bills have in common: stays to bill, forms as pages hand them back, words as people see them."""

import re
from datetime import date, timedelta
from uuid import uuid4

from django.test import Client
from django.utils import timezone

from kits.models import User
from reports.billing_due import due_of
from reports.models import Bill
from sites.models import Deployment
from tests import make
from tests.reports.billing import shop

TODAY = timezone.localdate()
LAST = (TODAY.replace(day=1) - timedelta(days=1)).replace(day=1)  # the first of the month that is over
BEFORE = (LAST - timedelta(days=1)).replace(day=1)
SINCE = LAST - timedelta(days=400)
CLOSE = f"/bills/close/?month={LAST:%Y-%m}"


def open_shop(boss: User) -> None:
    """A shop that charges 7.00 a day."""
    make.shop()
    shop.price_list(boss, from_day=SINCE, day_cents="7.00")


def stay_of(name: str, start: int = 1, days: int = 10, month: date = LAST, **fields: str) -> Deployment:
    payer = make.customer(name, **fields)
    first = month + timedelta(days=start)
    return shop.stay(shop.house(payer, since=SINCE), first, first + timedelta(days=days))


def close(client: Client, of: date = LAST, **changes: str):
    """Look at the month and issue what the page shows."""
    page = client.get(f"/bills/close/?month={of:%Y-%m}")
    return client.post("/bills/close/", {**hidden(page), **changes})


def hidden(page) -> dict[str, str]:
    """What the page's own form hands back."""
    form = page.content.decode().rsplit('<form method="post" class="form"', 1)[-1]
    found = re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form)
    return {name: value.replace("&quot;", '"') for name, value in found if name != "csrfmiddlewaretoken"}


def text_of(page) -> str:
    body = re.sub(r"<(script|style).*?</\1>", "", page.content.decode(), flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", body).replace("&#x27;", "'").split())


def heading(page) -> str:
    return " ".join(re.search(r"<h1[^>]*>(.*?)</h1>", page.content.decode(), re.DOTALL)[1].split())


def step(**fields: object) -> dict[str, object]:
    return {"request_id": str(uuid4()), **fields}


def issued(client: Client, name: str = "Ana", **fields: str) -> Bill:
    """A bill of 70.00 that was closed and drawn."""
    stay_of(name, **fields)
    close(client)
    client.post("/bills/draw/")
    return Bill.objects.get(payer_name=name)


def pay(client: Client, bill: Bill, amount: str, **more: object):
    due = due_of([bill], TODAY)[0]
    sent = {"paid_on": TODAY.isoformat(), "amount": amount, "open_seen": due.open_cents, **more}
    return client.post(f"/bills/{bill}/paid/", step(**sent))


def letter(**changes: object) -> dict[str, object]:
    return step(to="ana@example.com", subject_line="Your bill", text="Good day", **changes)


def ask(client: Client, bill: Bill, **changes: object):
    fields = {
        "asked_by": "Ana",
        "asked_on": TODAY.isoformat(),
        "day": (LAST + timedelta(days=3)).isoformat(),
        "question": "Was it not unplugged?",
        "answer_by": (TODAY + timedelta(days=7)).isoformat(),
        **changes,
    }
    return client.post(f"/bills/{bill}/lines/1/question/", step(**fields))
