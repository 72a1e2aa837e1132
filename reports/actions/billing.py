"""A month is closed: its bills are numbered, frozen and from then on unchangeable."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import date, timedelta

from kits.actions.acting import Act, Done, action, record
from kits.promises import Refused
from reports.billing.calendar import say_month
from reports.billing.lines import ONCE
from reports.billing.money import money_text
from reports.billing_books import Told
from reports.billing_close import Draft, check_month, look_at
from reports.many_rows import insert_rows, many_records
from reports.models import (
    Bill,
    BillLine,
    DayClaim,
    MonthClaim,
    OnceClaim,
    PaperNumber,
    Series,
)
from sites.days import day_of
from sites.free import shop_zone
from sites.models import Customer

DAYS_TO_PAY = 30
BATCH = 500


def check_manager(act: Act) -> None:
    if not act.typed_by.is_manager:
        raise Refused("Bills and credits are issued by a manager.", code="managers_only")


@action
@many_records()
def close_month(
    act: Act,
    *,
    month: date,
    payers: Collection[Customer] | None = None,
    seen: Mapping[int, int] | None = None,
    days_to_pay: int = DAYS_TO_PAY,
) -> Done:
    """The bills of a month are issued, of all payers or of some. `seen`: payer's id to the total that was looked at."""
    check_manager(act)
    month = check_month(month, act.recorded_at)
    counter = lock_counter(act, Series.BILL)
    close = look_at(month, act.recorded_at, payers=None if payers is None else {payer.pk for payer in payers})
    if seen is not None:
        check_seen(close.seen(), seen)
    if not close.drafts:
        raise Refused(f"Nothing is left to bill for {say_month(month)}.", code="nothing_to_bill")
    bills = issue(act, counter, close.drafts, close.told, days_to_pay)
    total = ", ".join(
        f"{money_text(sum(draft.total_cents for draft in close.drafts if draft.currency == currency))} {currency}"
        for currency in sorted({draft.currency for draft in close.drafts})
    )
    count = "1 bill" if len(bills) == 1 else f"{len(bills)} bills"
    sentence = f"{count} issued for {say_month(month)}: {span_of(bills)}, {total} in all"
    return record(act, "month closed", sentence, about=bills, details={"month": month, "bills": len(bills)})


def span_of(bills: list[Bill]) -> str:
    return bills[0].number if len(bills) == 1 else f"{bills[0].number} to {bills[-1].number}"


def check_seen(now: Mapping[int, int], seen: Mapping[int, int]) -> None:
    """Refuse when a total is no longer what somebody looked at."""
    other = [payer for payer in {*now, *seen} if now.get(payer) != seen.get(payer)]
    if other:
        names = ", ".join(Customer.objects.filter(pk__in=other).values_list("name", flat=True))
        raise Refused(
            f"Something changed since you looked: {names}. Nothing was issued. Look at the drafts again.",
            code="stale",
        )


def lock_counter(act: Act, series: Series) -> PaperNumber:
    """The counter of this year's series, locked until the transaction ends: who issues papers queues here."""
    year = day_of(act.recorded_at, shop_zone()).year
    counter, _made = PaperNumber.objects.get_or_create(series=series, year=year)
    return PaperNumber.objects.select_for_update().get(pk=counter.pk)


def next_numbers(counter: PaperNumber, count: int) -> list[tuple[int, str]]:
    """The next numbers of a locked counter."""
    first = counter.last + 1
    counter.last += count
    counter.save(update_fields=["last"])
    return [
        (serial, f"{counter.series}{counter.year}-{serial:04d}") for serial in range(first, first + count)
    ]


def issue(
    act: Act,
    counter: PaperNumber,
    drafts: list[Draft],
    told: Mapping[int, Told],
    days_to_pay: int = DAYS_TO_PAY,
) -> list[Bill]:
    """Number, write and seal bills; claim their days. All in the caller's transaction, so all or none."""
    today = day_of(act.recorded_at, shop_zone())
    numbers = next_numbers(counter, len(drafts))
    bills = Bill.objects.bulk_create(
        [
            Bill(
                number=number,
                year=counter.year,
                serial=serial,
                payer=draft.payer,
                payer_name=draft.payer.name,
                month=draft.month,
                currency=draft.currency,
                amount_cents=draft.amount_cents,
                tax_cents=draft.tax_cents,
                due_on=today + timedelta(days=days_to_pay),
                issued_by=act.typed_by,
            )
            for draft, (serial, number) in zip(drafts, numbers, strict=True)
        ],
        batch_size=BATCH,
    )
    insert_rows(
        BillLine,
        LINE_FIELDS,
        (row for bill, draft in zip(bills, drafts, strict=True) for row in rows_of(bill, draft, told)),
    )
    claim(bills, drafts)
    Bill.objects.filter(pk__in=[bill.pk for bill in bills]).update(issued_at=act.recorded_at)
    for bill in bills:
        bill.issued_at = act.recorded_at
    return bills


LINE_FIELDS = (
    "bill",
    "place",
    "payer",
    "deployment",
    "agreement",
    "terms",
    "kit_code",
    "site_words",
    "cell",
    "kind",
    "start",
    "until",
    "days",
    "covered",
    "holes",
    "quantity",
    "unit_cents",
    "amount_cents",
    "tax_code",
    "tax_rate",
    "tax_rounding",
    "tax_cents",
    "reason",
)


def rows_of(bill: Bill, draft: Draft, told: Mapping[int, Told]) -> Iterable[tuple[object, ...]]:
    """The lines of a draft as rows, in the order of `LINE_FIELDS`."""
    bill_key, payer_key = bill.pk, draft.payer.pk
    for place, (line, tax_cents) in enumerate(zip(draft.lines, draft.taxes, strict=True), start=1):
        words = told[line.stay]
        yield (
            bill_key,
            place,
            payer_key,
            line.stay,
            line.contract or None,
            line.terms,
            words.kit_code,
            words.site_words[:260],
            line.cell,
            line.kind.value,
            line.start,
            line.until,
            line.days,
            line.covered,
            [day.isoformat() for day in line.holes] if line.holes else [],
            line.quantity,
            line.unit_cents,
            line.amount_cents,
            line.tax.code,
            line.tax.rate,
            line.tax_rounding.value,
            tax_cents,
            line.reason,
        )


def claim(bills: list[Bill], drafts: list[Draft]) -> None:
    """Days, once-a-stay charges and months are taken; the database refuses what stands elsewhere already."""
    written = BillLine.objects.filter(bill__in=[bill.pk for bill in bills])
    rows_of_bill: dict[int, list[int]] = defaultdict(list)
    for key, row in written.order_by("bill_id", "place").values_list("bill_id", "pk"):
        rows_of_bill[key].append(row)
    lines = [
        (row, line)
        for bill, draft in zip(bills, drafts, strict=True)
        for row, line in zip(rows_of_bill[bill.pk], draft.lines, strict=True)
    ]
    insert_rows(
        DayClaim,
        ("day", "deployment", "line"),
        ((day, line.stay, row) for row, line in lines for day in line.claimed()),
    )
    once = [(row, line) for row, line in lines if line.kind in ONCE and line.amount_cents]
    there = set(
        OnceClaim.objects.filter(
            deployment__in={line.stay for _row, line in once}, released_by=None
        ).values_list("deployment_id", "kind", "line__cell")
    )
    # What is only the difference to an earlier line of that month stands beside it, under that line's claim.
    insert_rows(
        OnceClaim,
        ("kind", "deployment", "line"),
        (
            (line.kind.value, line.stay, row)
            for row, line in once
            if (line.stay, line.kind.value, line.cell) not in there
        ),
    )
    MonthClaim.objects.bulk_create(
        MonthClaim(payer_id=bill.payer_id, month=bill.month, currency=bill.currency, bill=bill)
        for bill in bills
    )
