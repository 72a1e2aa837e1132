"""Tables of places: customers, sites, agreements."""

import django_tables2 as tables
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from sites.file_columns import AGREEMENT_COLUMNS, CUSTOMER_COLUMNS, SITE_COLUMNS
from sites.models import Agreement, Customer, Site
from sites.parties import parts_by_customer, parts_by_site, stays_here
from sites.templatetags.contact import phone


class CustomerTable(tables.Table):
    """Expects `current_parties` (with sites) on each row."""

    caption = "Customers"
    counted = "customer,customers"
    exports = ("csv", "xlsx")
    file_columns = CUSTOMER_COLUMNS
    teach = "A customer lives at, owns or pays for a site. Write one down when the first call comes in."

    name = tables.Column(linkify=True)
    phone = tables.Column()
    email = tables.EmailColumn(verbose_name="E-mail")
    parts = tables.Column(empty_values=(), orderable=False, verbose_name="Where, and as what")

    class Meta:
        empty_text = "No customers yet."
        order_by = "name"

    def render_phone(self, value: str) -> SafeString | str:
        return phone(value)

    def render_parts(self, record: Customer) -> SafeString | str:
        places = parts_by_site(record.current_parties)  # type: ignore[attr-defined]
        if not places:
            return "nowhere now"
        return format_html_join(
            "; ", '{} <a href="{}">{}</a>', ((words, site.get_absolute_url(), site) for site, words in places)
        )


class SiteTable(tables.Table):
    """Expects `current_parties`, `unit_count`, `stay_count`, and units with `stays_here`, on each row."""

    caption = "Sites"
    counted = "site,sites"
    exports = ("csv", "xlsx")
    file_columns = SITE_COLUMNS
    teach = "A site is an address where equipment stands, in its own time zone."

    street = tables.Column(linkify=True, verbose_name="Address")
    city = tables.Column()
    who = tables.Column(empty_values=(), orderable=False, verbose_name="Who is who there")
    unit_count = tables.Column(verbose_name="Units", attrs={"td": {"class": "numeral"}})
    stay_count = tables.Column(verbose_name="Stays so far", attrs={"td": {"class": "numeral"}})
    kits = tables.Column(empty_values=(), orderable=False, verbose_name="Kits there now")

    class Meta:
        empty_text = "No sites yet."
        order_by = "street"

    def render_city(self, record: Site) -> str:
        return " ".join(part for part in (record.city, record.region) if part)

    def render_who(self, record: Site) -> SafeString | str:
        people = parts_by_customer(record.current_parties)  # type: ignore[attr-defined]
        if not people:
            return "nobody written down"
        return format_html_join(
            "; ", '<a href="{}">{}</a> {}', ((who.get_absolute_url(), who, words) for who, words in people)
        )

    def render_kits(self, record: Site) -> SafeString | str:
        here = stays_here(record)
        return format_html_join(
            ", ", '<a href="{}">{}</a>', ((stay.kit.get_absolute_url(), stay.kit.name) for stay in here)
        )


class AgreementTable(tables.Table):
    """Expects sites prefetched, and `state` (word, tone) on each row."""

    caption = "Agreements"
    counted = "agreement,agreements"
    exports = ("csv", "xlsx")
    file_columns = AGREEMENT_COLUMNS
    teach = "An agreement says in words what monitoring costs, for which sites, and how it ends. A manager writes it."

    customer = tables.Column(empty_values=(), order_by="customer__name")
    covers = tables.Column(empty_values=(), orderable=False, verbose_name="Sites it covers")
    since = tables.DateColumn(verbose_name="From", format="D j M Y")
    until = tables.DateColumn(verbose_name="Until", format="D j M Y", default="runs on")
    state = tables.Column(empty_values=(), orderable=False, verbose_name="Now")

    class Meta:
        empty_text = "No agreements yet."
        order_by = "customer"

    def render_customer(self, record: Agreement) -> SafeString:
        return format_html('<a href="{}">{}</a>', record.get_absolute_url(), record.customer)

    def render_covers(self, record: Agreement) -> str:
        return "; ".join(str(site) for site in record.sites.all())

    def render_state(self, record: Agreement) -> SafeString:
        word, tone = record.state  # type: ignore[attr-defined]
        return format_html('<span class="word word-{}">{}</span>', tone, word)
