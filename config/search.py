"""One box for everything: kits, sensors, calls, customers, sites. Technicians find kits, sensors and their own calls."""

import re
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TypeVar

from django.db.models import Model, Prefetch, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from kits.codes import CODE_LENGTH, BadCode, code_from_scan, near_codes, read_code
from kits.models import Kit, Sensor, User, Wiring
from kits.models.base import fold
from kits.rom import BadRom, read_rom
from kits.ways import way
from kits.web import EVERYBODY, for_roles, user_of
from sites.day_lines import stay_url
from sites.days import day_of
from sites.finding import matching
from sites.free import shop_zone
from sites.models import Customer, Deployment, Party, ServiceCall, Site
from sites.parties import parts_by_site

AT_MOST = 20
LEAST_TAIL = 3  # of a ROM ID; fewer digits fit too many sensors
_CALL = re.compile(r"^(?:call\s*#?\s*|#)?(\d{1,9})$", re.IGNORECASE)
Row = TypeVar("Row", bound=Model)
_LIKE_A_CODE = re.compile(r"^[0-9A-Z]{5,7}$")


@dataclass(frozen=True)
class Hit:
    """One thing found: what it is called, where it leads, a line about it."""

    title: str
    url: str
    about: str = ""
    code: str = ""


@dataclass(kw_only=True)
class Group:
    """Things of one kind that were found; `more` says that only the first are shown."""

    heading: str
    hits: list[Hit] = field(default_factory=list)
    more: bool = False


def first(rows: QuerySet[Row]) -> tuple[list[Row], bool]:
    """The first rows, and whether there are more."""
    found = list(rows[: AT_MOST + 1])
    return found[:AT_MOST], len(found) > AT_MOST


@for_roles(*EVERYBODY)
@require_safe
def search(request: HttpRequest) -> HttpResponse:
    """What did you mean by that? A whole kit code leads straight to its kit."""
    text = request.GET.get("q", "").strip()[:80]
    user = user_of(request)
    if kit := kit_of(text):
        return redirect(kit)
    groups = [group for group in look_for(text, user) if group.hits] if fold(text) else []
    context = {
        "q": text,
        "groups": groups,
        "count": sum(len(group.hits) for group in groups),
        "near": near_kits(text),
        "why_no_code": why_no_code(text),
    }
    return render(request, "search.html", context)


def kit_of(text: str) -> Kit | None:
    """The kit whose whole code this is, typed or scanned."""
    try:
        return Kit.objects.filter(code=read_code(text)).first()
    except BadCode:
        return None


def looks_like_a_code(text: str) -> bool:
    """About as long as a kit code and with a digit in it: a name is not taken for a mistyped code."""
    try:
        folded = code_from_scan(text)
    except BadCode:
        return False
    return bool(_LIKE_A_CODE.match(folded)) and any(c.isdigit() for c in folded) and not folded.isdigit()


def why_no_code(text: str) -> str:
    """What is wrong with something that looks like a kit code."""
    if not looks_like_a_code(text):
        return ""
    try:
        code = read_code(text)
    except BadCode as bad:
        return str(bad)
    return f"{code} could be a kit's code, but this shop has no kit with it."


def near_kits(text: str) -> list[Kit]:
    """Kits whose code a small slip turns into what was typed."""
    try:
        folded = code_from_scan(text)
    except BadCode:
        return []
    if not CODE_LENGTH - 1 <= len(folded) <= CODE_LENGTH + 1:
        return []
    near = near_codes(text, Kit.objects.values_list("code", flat=True))
    found = {kit.code: kit for kit in Kit.objects.filter(code__in=near).with_custody()}
    return [found[code] for code in near]


def look_for(text: str, user: User) -> list[Group]:
    """Everything that fits, by kind, as far as this person may see it."""
    groups = [kits(text), sensors(text), calls(text, user)]
    if user.is_office:
        groups += [sites(text), customers(text)]
    return groups


def kits(text: str) -> Group:
    found, more = first(matching(Kit.objects.with_custody(), text))
    hits = [Hit(kit.name, kit.get_absolute_url(), kit.whereabouts, kit.code) for kit in found]
    return Group(heading="Kits", hits=hits, more=more)


def sensors(text: str) -> Group:
    """By the end of the ROM ID, the whole of it in any writing, or the tag."""
    in_kit = Prefetch(
        "wirings", Wiring.objects.filter(wired_until=None).select_related("kit"), to_attr="wired_now"
    )
    tail = re.sub(r"[^0-9A-Fa-f]", "", text).upper()
    wanted = Q(tag__iexact=text)
    if len(tail) >= LEAST_TAIL and len(tail) == len(fold(text).replace(" ", "").strip("….:-")):
        wanted |= Q(rom__endswith=tail)
    with suppress(BadRom):
        wanted |= Q(rom=read_rom(text))
    whole_words = matching(Sensor.objects.all(), text).values("pk")
    rows = Sensor.objects.filter(wanted | Q(pk__in=whole_words)).prefetch_related(in_kit)
    found, more = first(rows)
    hits = []
    for sensor in found:
        wiring = next(iter(vars(sensor)["wired_now"]), None)
        about = f"{wiring.kit}, terminal {wiring.terminal}" if wiring else "a spare"
        hits.append(Hit(f"Sensor {sensor}", sensor.get_absolute_url(), f"{sensor.rom}, {about}"))
    return Group(heading="Sensors", hits=hits, more=more)


def calls(text: str, user: User) -> Group:
    """By number, or by words of what the customer told us. A technician's own only, which lead to their stay."""
    number = _CALL.match(text)
    rows = (
        ServiceCall.objects.filter(number=int(number[1]))
        if number
        else matching(ServiceCall.objects.all(), text)
    )
    if user.is_technician:
        rows = rows.filter(Q(technician=user) | Q(deployments__technician=user)).distinct()
    running = Deployment.objects.order_by("-pk")
    # The newest that fit, then their sites: joined at once, every call's site would be read to search the calls.
    keys = [call.pk for call in rows.only("pk", "number").order_by("-number")[: AT_MOST + 1]]
    whole = ServiceCall.objects.filter(pk__in=keys).select_related("unit__site")
    whole = whole.prefetch_related(Prefetch("deployments", running, to_attr="stays_newest_first"))
    found, more = first(whole.order_by("-number"))
    hits = []
    for call in found:
        url = call.get_absolute_url()
        if user.is_technician:
            newest = next(iter(vars(call)["stays_newest_first"]), None)
            url = stay_url(newest) if newest else way("truck") or "/"
        state = "closed" if call.closed_on else "open"
        hits.append(Hit(f"Call {call.number}", url, f"{call.unit.site}, {call.unit.name}, {state}"))
    return Group(heading="Calls", hits=hits, more=more)


def sites(text: str) -> Group:
    found, more = first(matching(Site.objects.all(), text))
    hits = [Hit(str(site), site.get_absolute_url(), site.contact_name) for site in found]
    return Group(heading="Sites", hits=hits, more=more)


def customers(text: str) -> Group:
    today = day_of(timezone.now(), shop_zone())
    now_there = Prefetch("parties", Party.objects.on(today).select_related("site"), to_attr="current_parties")
    found, more = first(matching(Customer.objects.prefetch_related(now_there), text))
    hits = []
    for customer in found:
        places = "; ".join(
            f"{words} {site}" for site, words in parts_by_site(vars(customer)["current_parties"])
        )
        hits.append(Hit(customer.name, customer.get_absolute_url(), places or customer.phone))
    return Group(heading="Customers", hits=hits, more=more)
