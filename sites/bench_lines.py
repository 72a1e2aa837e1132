"""Lines of the day sheet about the bench's measuring: kits with sensors to be checked, stays whose papers are in doubt."""

from datetime import timedelta

from django.db.models import Exists, Q
from django.urls import reverse

from kits.models import Kit, Place, Shop, Wiring
from kits.readiness import SOON_DAYS, against_dates, dated, dated_wirings
from kits.units import Unit
from sites.day_lines import Clock, Line, on_day
from sites.doubts import recent_doubts
from sites.narrowing import out_of_date, with_place

SHOWN_AT_MOST = 60
DOUBT_SHOWN_DAYS = 30
"""So long after a check the stays it put in doubt stand on the sheet; on the stay itself they stand for good."""


def to_check(clock: Clock) -> list[Line]:
    """Kits in the shop with a sensor that is due, or will be within two weeks. Three queries, and sixty kits at most."""
    shop = Shop.current()
    soon = clock.today + timedelta(days=SOON_DAYS)
    kits = with_place(Kit.objects.all()).filter(Q(place_now__in=[Place.SHELF, Place.BENCH]))
    due = kits.filter(Exists(out_of_date(soon, clock.now, shop))).order_by("name", "code")
    shown = list(due[: SHOWN_AT_MOST + 1])
    rows = Wiring.objects.filter(kit__in=[kit.pk for kit in shown], wired_until=None).select_related("sensor")
    sensors: dict[int, list] = {}
    for row in dated_wirings(rows.order_by("terminal"), clock.now):
        sensors.setdefault(row.kit_id, []).append(dated(row, shop))
    lines = []
    for kit in shown[:SHOWN_AT_MOST]:
        late = against_dates(sensors[kit.pk], clock.today)
        bad = any(one.is_to_be_replaced for one in sensors[kit.pk])
        first = min((one.due_on for one in sensors[kit.pk] if one.due_on), default=clock.today)
        lines.append(
            Line(
                word="to be replaced" if bad else "check due" if late else "check due soon",
                tone="attention" if late else "plain",
                what=f"{late[:1].upper()}{late[1:]}."
                if late
                else f"The next check is due {on_day(first, clock.today)}.",
                kit=kit,
                is_note=True,
                actions=(("See the kit", kit.get_absolute_url()),),
                rank=(0 if late else 1, first.toordinal()),
            )
        )
    lines.sort(key=lambda line: line.rank)
    if len(shown) > SHOWN_AT_MOST:
        more = Line(
            word="and more",
            tone="plain",
            what="More kits have sensors to be checked; the bench shows all of them.",
            is_note=True,
            actions=(("See the bench", reverse("bench")),),
        )
        lines.append(more)
    return lines


def in_doubt(clock: Clock, unit: Unit) -> list[Line]:
    """Stays that a check of the last weeks put in doubt."""
    return [
        Line(
            word="in doubt",
            tone="attention",
            what=one.sentence(unit)
            + f" Found by {one.result.sitting} {clock.day(one.result.sitting.closed_at)}.",
            kit=one.stay.kit,
            stay=one.stay,
            site=one.stay.unit.site,
            is_note=True,
            actions=(
                ("Look at the stay", one.stay.get_absolute_url()),
                ("Look at the check", one.result.sitting.get_absolute_url()),
            ),
        )
        for one in recent_doubts(clock.now, clock.now - timedelta(days=DOUBT_SHOWN_DAYS))
        if one.result.sitting.closed_at
    ]
