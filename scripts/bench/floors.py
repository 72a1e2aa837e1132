"""The least that the same answers can cost: what stands beside the product in the table."""

from collections.abc import Callable, Iterable
from typing import Any

import django_tables2 as tables
from django.core.handlers.wsgi import WSGIHandler
from django.db import connection
from django.db.models import OuterRef, Subquery
from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.test import override_settings
from django_tables2.config import RequestConfig

from kits.models import Custody, Kit
from sites.kit_list import count_per_kit
from sites.models import Deployment

EIGHT_MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]


def handler() -> WSGIHandler:
    """Django with the eight middlewares and the sessions a new project has (and its login), not the product's fourteen."""
    with override_settings(MIDDLEWARE=EIGHT_MIDDLEWARE, SESSION_ENGINE="django.contrib.sessions.backends.db"):
        return WSGIHandler()


# One statement for all that the face of a kit tells: kit, whereabouts, open stay, site, leads, positions, offsets.
FACE_SQL = """
SELECT k.code, k.name, c.place, u.name, d.take_out_by, d.installed_at, s.street, s.city,
       w.terminal, n.tag, n.rom, p.code, p.name, o.offset_kelvin
FROM kits_kit k
JOIN kits_custody c ON c.kit_id = k.id AND c.held_until IS NULL
LEFT JOIN kits_user u ON u.id = c.technician_id
LEFT JOIN sites_deployment d ON d.kit_id = k.id AND d.ended_at IS NULL AND d.loaded_at IS NOT NULL
LEFT JOIN sites_unit t ON t.id = d.unit_id
LEFT JOIN sites_site s ON s.id = t.site_id
LEFT JOIN kits_wiring w ON w.kit_id = k.id AND w.wired_until IS NULL
LEFT JOIN kits_sensor n ON n.id = w.sensor_id
LEFT JOIN sites_placement l ON l.deployment_id = d.id AND l.sensor_id = n.id AND l.placed_until IS NULL
LEFT JOIN sites_position p ON p.id = l.position_id
LEFT JOIN kits_offset o ON o.sensor_id = n.id AND o.in_force_from =
    (SELECT MAX(in_force_from) FROM kits_offset WHERE sensor_id = n.id AND in_force_from <= CURRENT_TIMESTAMP)
WHERE k.code = %s ORDER BY w.terminal
"""
FACE = """<!doctype html><html lang="en"><title>{{ kit.1 }}</title><h1>{{ kit.0 }}</h1>
<p>{{ kit.1 }}, {{ kit.2 }} {{ kit.3|default:"" }}</p>{% if kit.6 %}<p>{{ kit.6 }}, {{ kit.7 }}: take out by {{ kit.4 }}</p>{% endif %}
<ul>{% for row in rows %}<li>{{ row.11|default:row.8 }} {{ row.12|default:"" }} {{ row.9 }} {{ row.10 }} {{ row.13|default:"no offset" }}</li>{% endfor %}</ul>
<p>{{ request.user.name }}</p></html>"""
_templates: dict[str, Any] = {}


def template(text: str) -> Any:
    """Compiled once, as templates of files are."""
    if text not in _templates:
        _templates[text] = engines["django"].from_string(text)
    return _templates[text]


def face_rows(code: str) -> list[Any]:
    with connection.cursor() as cursor:
        cursor.execute(FACE_SQL, [code])
        return cursor.fetchall()


def face(request: HttpRequest, code: str) -> HttpResponse:
    """Signed in, one SQL, template."""
    rows = face_rows(code)
    return HttpResponse(template(FACE).render({"kit": rows[0], "rows": rows}, request))


def bare(code: str) -> Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]:
    """A WSGI function with the one SQL and an f-string: no framework at all."""

    def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        connection.ensure_connection()
        cursor = connection.connection.cursor()  # the driver's own
        statement = FACE_SQL.replace("%s", "?") if connection.vendor == "sqlite" else FACE_SQL
        rows = cursor.execute(statement, [code]).fetchall()
        kit = rows[0]
        leads = "".join(
            f"<li>{row[11] or row[8]} {row[12]} {row[9]} {row[10]} {row[13]}</li>" for row in rows
        )
        body = f"<!doctype html><h1>{kit[0]}</h1><p>{kit[1]}, {kit[2]}, {kit[6]}, {kit[7]}: {kit[4]}</p><ul>{leads}</ul>"
        start_response("200 OK", [("Content-Type", "text/html; charset=utf-8")])
        return [body.encode()]

    return application


# -- Fifty kits ----------------------------------------------------------------------------------

ROWS = """{% for row in table.paginated_rows %}<tr>{% for column, cell in row.items %}<td>{{ cell }}</td>{% endfor %}</tr>
{% endfor %}"""
KITS = (
    """<!doctype html><html lang="en"><title>Kits</title><h1>{{ count }} kits</h1><table><thead><tr>
{% for column in table.columns %}<th><a href="?sort={{ column.order_by_alias.next }}">{{ column.header }}</a></th>{% endfor %}
</tr></thead><tbody>"""
    + ROWS
    + """</tbody></table><p>Page {{ table.page.number }} of {{ table.page.paginator.num_pages }}</p></html>"""
)


class KitRows(tables.Table):
    """The eight columns of the product's list, plain, told by one query."""

    code = tables.Column()
    name = tables.Column()
    place_now = tables.Column()
    site_now = tables.Column()
    due_back = tables.Column()
    sensor_count = tables.Column()
    condition = tables.Column()
    follow_up_count = tables.Column()

    class Meta:
        order_by = "name"


def kits(request: HttpRequest) -> HttpResponse:
    """django-tables2 with a lean row template, signed in."""
    from sites.kit_list import FollowUp, Wiring

    open_custody = Custody.objects.filter(kit=OuterRef("pk"), held_until=None)
    out = Deployment.objects.out().filter(kit=OuterRef("pk"))
    rows = Kit.objects.annotate(
        place_now=Subquery(open_custody.values("place")[:1]),
        due_back=Subquery(out.values("back_in_shop_by")[:1]),
        site_now=Subquery(out.values("unit__site__street")[:1]),
        sensor_count=count_per_kit(Wiring.objects.filter(wired_until=None)),
        follow_up_count=count_per_kit(FollowUp.objects.filter(done_at=None)),
    )
    table = KitRows(rows)
    RequestConfig(request, paginate={"per_page": 50}).configure(table)
    return HttpResponse(template(KITS).render({"table": table, "count": rows.count()}, request))
