"""The day sheet and the truck list as plain records for an e-mail, and the e-mail as text. Reads what it is given only."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from textwrap import fill

from django.urls import reverse

from kits.models import Kit, Shop
from kits.templatetags.kitperch import counted, spaced_code
from sites.addresses import absolute
from sites.day_lines import Line, read_people
from sites.day_sheet import DaySheet
from sites.days import say_day
from sites.models import ServiceCall, Site, Unit
from sites.trucks import Carried, Loss, Stop, Truck

TEXT_WIDTH = 72


@dataclass(frozen=True, kw_only=True)
class MailLine:
    """One thing: its state as a word with a tone, what it is about, what is so, where, whom to call, where to look."""

    word: str
    about: str
    says: str
    tone: str = "plain"
    where: str = ""
    people: tuple[tuple[str, str], ...] = ()  # who, number
    url: str = ""


@dataclass(frozen=True, kw_only=True)
class MailPart:
    """A part of the sheet; `empty` is what it says when nothing stands in it."""

    title: str
    count: str
    lines: list[MailLine] = field(default_factory=list)
    empty: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class DayMail:
    """One e-mail: its subject, the answer in a sentence, one sentence more, the parts, and the page it was made from."""

    subject: str
    heading: str
    lead: str
    parts: list[MailPart]
    page: str
    page_url: str
    shop: str


# -- The office's day sheet ------------------------------------------------------------------------


def office_mail(sheet: DaySheet, shop: Shop) -> DayMail:
    """The day sheet, part by part as on its page."""
    read_people(sheet.lines())
    return DayMail(
        subject=one_line(f"Day sheet, {say_day(sheet.today, sheet.today)}: {sheet.headline}"),
        heading=f"{sheet.headline}.",
        lead=(
            f"{counted(sheet.leaving, 'kit leaves,kits leave')} today or tomorrow, "
            f"{counted(len(sheet.comes_home), 'comes,come')} home by {say_day(sheet.home_by, sheet.today)}."
        ),
        parts=[
            MailPart(
                title="Call someone now",
                count=counted(len(sheet.call_now), "thing,things"),
                lines=[sheet_line(line, shop) for line in sheet.call_now],
                empty="Nobody has to be called.",
            ),
            MailPart(
                title="Leaves",
                count=counted(sheet.leaving, "kit,kits"),
                lines=[
                    sheet_line(line, shop, carrier=who.name if who else "no technician named yet")
                    for who, lines in sheet.leaves
                    for line in lines
                ],
                empty="No kit leaves today or tomorrow.",
                note=f"{counted(sheet.later_calls, 'later call has,later calls have')} no kit yet."
                if sheet.later_calls
                else "",
            ),
            MailPart(
                title="Comes home",
                count=f"by {say_day(sheet.home_by, sheet.today)}",
                lines=[sheet_line(line, shop) for line in sheet.comes_home],
                empty="Nothing is due in the next three days.",
            ),
            MailPart(
                title="Bench",
                count=f"{counted(len(sheet.bench), 'kit,kits')}, {len(sheet.to_do)} still to do",
                lines=[sheet_line(line, shop) for line in (*sheet.bench, *sheet.to_do, *sheet.to_check)],
                empty="The bench is clear.",
            ),
        ],
        page="day sheet",
        page_url=absolute(reverse("day_sheet"), shop),
        shop=shop.name,
    )


def sheet_line(line: Line, shop: Shop, *, carrier: str = "") -> MailLine:
    """A line of the day sheet; `carrier` is whose truck it leaves on."""
    unit: Unit | None = line.stay.unit if line.stay else line.call.unit if line.call else None
    return MailLine(
        word=line.word,
        tone=line.tone,
        about=name_of(line.kit) if line.kit else call_name(line.call),
        says=sentence(line.what) + (f" With {carrier}." if carrier else ""),
        where=house(line.site, unit, line.call if line.kit else None),
        people=tuple(
            (f"{contact.name} ({contact.part})", contact.phone or "no number written down")
            for contact in line.contacts
        ),
        url=absolute(line.actions[0][1], shop) if line.actions else "",
    )


# -- A technician's truck list -----------------------------------------------------------------------


def truck_mail(truck: Truck, shop: Shop) -> DayMail:
    """The truck list, day by day as on its page."""
    stops = counted(truck.stops_today, "stop,stops") if truck.stops_today else "No stop"
    heading = f"{stops} today, {counted(len(truck.carried), 'kit,kits')} aboard"
    more = [
        f"{counted(len(truck.to_fetch), 'kit,kits')} still to be loaded" if truck.to_fetch else "",
        f"{len(truck.to_hand_back)} to hand back" if truck.to_hand_back else "",
    ]
    lead = "; ".join(part for part in more if part)
    return DayMail(
        subject=one_line(f"Truck list, {say_day(truck.today, truck.today)}: {heading}"),
        heading=f"{heading}.",
        lead=sentence(f"{truck.technician.name}'s truck" + (f"; {lead}" if lead else "")),
        parts=[
            *([taken_away(truck.losses, shop)] if truck.losses else []),
            *(
                MailPart(
                    title=day,
                    count=counted(len(stops_), "stop,stops"),
                    lines=[stop_line(stop, truck, shop) for stop in stops_],
                )
                for day, stops_ in truck.days
            ),
            *([] if truck.days else [nowhere_to_go()]),
            MailPart(
                title="Aboard",
                count=counted(len(truck.carried), "kit,kits"),
                lines=[carried_line(row, shop) for row in truck.carried],
                empty="No kit aboard.",
            ),
        ],
        page="truck list",
        page_url=absolute(reverse("truck"), shop),
        shop=shop.name,
    )


def nowhere_to_go() -> MailPart:
    return MailPart(title="Stops", count="none", empty="Nowhere to go in the next seven days.")


def stop_line(stop: Stop, truck: Truck, shop: Shop) -> MailLine:
    """An errand at a house: the days it may fall on, how to get in, whom to call there."""
    call, site = stop.call, stop.site
    first, last = (say_day(day, truck.today) for day in (call.window_from, call.window_until))
    window = "" if stop.errand == "take out" else f"{first}. " if first == last else f"{first} to {last}. "
    phone = ((site.contact_name or "At the house", site.contact_phone),) if site.contact_phone else ()
    return MailLine(
        word=stop.errand,
        tone=stop.tone,
        about=name_of(stop.kit) if stop.kit else call_name(call),
        says=" ".join(
            part
            for part in (sentence(stop.words), window.strip(), sentence(one_line(site.access_notes)))
            if part
        ),
        where=house(site, call.unit, call if stop.kit else None, full=True),
        people=phone,
        url=face_url(stop.kit, shop) if stop.kit else absolute(reverse("truck"), shop),
    )


def carried_line(row: Carried, shop: Shop) -> MailLine:
    return MailLine(
        word="to hand back" if row.stay and row.stay.removed_at else "aboard",
        tone=row.tone,
        about=name_of(row.kit),
        says=sentence(row.words),
        url=face_url(row.kit, shop),
    )


def taken_away(losses: Iterable[Loss], shop: Shop) -> MailPart:
    """Kits that somebody took from this truck."""
    lines = [
        MailLine(
            word="taken",
            tone="attention" if loss.needs_a_kit else "plain",
            about=name_of(loss.kit),
            says=f"{loss.taken_by} took it from your truck."
            + (f" Call {loss.call.number} needs a kit." if loss.call and loss.needs_a_kit else ""),
            url=face_url(loss.kit, shop),
        )
        for loss in losses
    ]
    return MailPart(title="Taken from your truck", count=counted(len(lines), "kit,kits"), lines=lines)


# -- Words -------------------------------------------------------------------------------------------


def name_of(kit: Kit) -> str:
    return f"{kit.name} {spaced_code(kit.code)}"


def call_name(call: ServiceCall | None) -> str:
    return f"Call {call.number}" if call else ""


def house(site: Site | None, unit: Unit | None, call: ServiceCall | None, *, full: bool = False) -> str:
    """Address (in full for somebody who drives there), unit and call in one line."""
    if site is None:
        return ""
    address = ", ".join(line for line in site.address_lines() if line) if full else str(site)
    parts = [address, unit.describe() if unit and full else unit.name if unit else ""]
    return ", ".join([*(part for part in parts if part), *([str(call)] if call else [])])


def face_url(kit: Kit, shop: Shop) -> str:
    return absolute(reverse("face", args=[kit.code]), shop)


def one_line(words: str) -> str:
    """Without line breaks, which a subject must not hold."""
    return " ".join(words.split())


def sentence(words: str) -> str:
    """With a capital at its head and a stop at its end; nothing stays nothing."""
    words = words.strip()
    return words and words[0].upper() + words[1:] + ("" if words[-1] in ".!?" else ".")


# -- As text -----------------------------------------------------------------------------------------


def as_text(mail: DayMail) -> str:
    """The e-mail for a program that shows no HTML: nothing is left out."""
    return "\n".join(text_lines(mail)) + "\n"


def text_lines(mail: DayMail) -> Iterator[str]:
    yield from (wrapped(mail.heading), wrapped(mail.lead))
    for part in mail.parts:
        title = f"{part.title.upper()} ({part.count})"
        yield from ("", title, "-" * min(len(title), TEXT_WIDTH))
        if not part.lines:
            yield wrapped(part.empty)
        for number, line in enumerate(part.lines):
            if number:
                yield ""
            yield from text_of(line)
        if part.note:
            yield from ("", wrapped(part.note))
    yield from ("", f"The {mail.page} as it stands now:", mail.page_url, "", f"-- \n{mail.shop}")


def text_of(line: MailLine) -> Iterator[str]:
    yield wrapped(f"* {line.about}: {line.word.upper()}", "  ")
    for words in (line.says, line.where):
        if words:
            yield wrapped(f"  {words}", "  ")
    for who, number in line.people:
        yield wrapped(f"  {who}: {number}", "  ")
    if line.url:
        yield f"  {line.url}"  # never wrapped: it is clicked


def wrapped(words: str, indent: str = "") -> str:
    """Lines short enough for any mail program; what follows the first is indented."""
    return fill(words, TEXT_WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
