"""Sections 1 and 2: the kit's face and the list of kits, beside their floors, in one process."""

import gzip
import re
import time
from collections.abc import Callable, Iterable
from functools import partial
from io import BytesIO
from pathlib import Path
from typing import Any

from django.contrib.staticfiles import finders
from django.core.handlers.wsgi import WSGIHandler
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from scripts.bench import floors, shops
from scripts.bench.timing import Line, in_turn

ROUNDS = 60
DJANGOS = "django.contrib.auth.backends.ModelBackend"


def clock() -> Callable[[], float]:
    """On SQLite all the work is this process's own; a server's is not, and has to be waited for."""
    return time.process_time if connection.vendor == "sqlite" else time.perf_counter


Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


class Visitor:
    """A signed-in person of the shop that is turned to; for a floor, one whom Django looks up by itself."""

    def __init__(self, role: str = "technician", *, backend: str = "config.sessions.People") -> None:
        from kits.models import User

        client = Client()
        client.force_login(
            User.objects.filter(role=role).order_by("pk")[0],
            backend=backend,
        )
        self.cookie = "; ".join(f"{name}={value.value}" for name, value in client.cookies.items())

    def get(self, application: Application, path: str) -> bytes:
        """The body of the page, through the application's whole stack."""
        address, _, query = path.partition("?")
        environ = {
            "REQUEST_METHOD": "GET",
            "PATH_INFO": address,
            "QUERY_STRING": query,
            "SERVER_NAME": "localhost",
            "SERVER_PORT": "8000",
            "SERVER_PROTOCOL": "HTTP/1.1",
            "HTTP_HOST": "localhost:8000",
            "HTTP_COOKIE": self.cookie,
            "wsgi.input": BytesIO(),
            "wsgi.url_scheme": "http",
            "wsgi.errors": BytesIO(),
            "wsgi.multithread": False,
            "wsgi.multiprocess": True,
            "wsgi.run_once": False,
        }
        status: list[str] = []
        answer = application(environ, lambda line, headers, *_: status.append(line))
        body = b"".join(answer)
        if close := getattr(answer, "close", None):
            close()
        assert status[0].startswith("200"), f"{path} answered {status[0]}"
        return body

    def queries(self, application: Application, path: str) -> int:
        from django.core.signals import request_started
        from django.db import reset_queries

        request_started.disconnect(reset_queries)
        with CaptureQueriesContext(connection) as seen:
            self.get(application, path)
        return len(seen)


def face_address() -> str:
    """The face of a kit that hangs at a unit with four leads placed."""
    from kits.models import Kit

    hanging = Kit.objects.filter(deployments__ended_at=None, deployments__installed_at__isnull=False)
    return f"/k/{hanging.filter(deployments__removed_at=None).order_by('pk')[0].code}"


def weight(page: bytes) -> float:
    """Kilobytes of a page compressed, with the style sheets it names."""
    styles = re.findall(rb'href="/static/([^"]+\.css)"', page)
    assert styles, "the page names no style sheet"
    found = [finders.find(re.sub(r"\.[0-9a-f]{12}\.css$", ".css", style.decode())) for style in styles]
    parts = [page, *(Path(str(path)).read_bytes() for path in found)]
    return sum(len(gzip.compress(part, 6)) for part in parts) / 1000


def measure(database: str, folder: Path) -> list[Line]:
    """Faces and lists of every shop of this database."""
    product, small = WSGIHandler(), floors.handler()
    lines: list[Line] = []
    for kind in (shops.DEMO, shops.LARGE):
        shops.turn_to(kind, folder=folder)
        where = f"{database}, {kind.words}"
        lines += face(Visitor(), product, small, where) + kits(Visitor(), product, small, where)
    return lines + growth(product, database, folder)


def face(visitor: Visitor, product: WSGIHandler, small: WSGIHandler, where: str) -> list[Line]:
    address = face_address()
    code = address.split("/")[-1]
    bare, plain = floors.bare(code), Visitor(backend=DJANGOS)
    times = in_turn(
        {
            "bare": lambda: visitor.get(bare, "/"),
            "one": lambda: plain.get(small, f"/floor/face/{code}/"),
            "product": lambda: visitor.get(product, address),
        },
        rounds=ROUNDS,
        clock=clock(),
    )
    page = visitor.get(product, address)
    return [
        Line("1", "bare WSGI, one SQL, f-string", where, times["bare"], "ms"),
        Line(
            "1",
            "kit face beside signed in, one SQL, template",
            where,
            times["product"],
            "ms",
            times["one"],
            2.0,
            True,
        ),
        Line("1", "kit face, queries", where, visitor.queries(product, address), "", None, 8),
        Line("1", "kit face with its styles, compressed", where, weight(page), "kB", None, 20),
    ]


def kits(visitor: Visitor, product: WSGIHandler, small: WSGIHandler, where: str) -> list[Line]:
    plain = Visitor(backend=DJANGOS)
    times = in_turn(
        {
            "floor": lambda: plain.get(small, "/floor/kits/"),
            "product": lambda: visitor.get(product, "/kits/"),
        },
        rounds=ROUNDS // 2,
        clock=clock(),
    )
    page = visitor.get(product, "/kits/")
    rows = page.count(b"<tr") - 1
    return [
        Line(
            "2",
            f"kit list, {rows} rows, beside tables2, lean",
            where,
            times["product"],
            "ms",
            times["floor"],
            1.3,
            True,
        ),
        Line("2", "kit list, queries", where, visitor.queries(product, "/kits/"), "", None, 12),
        Line("2", f"kit list, {rows} rows, HTML", where, len(page) / 1000, "kB", None, 25),
    ]


def growth(product: WSGIHandler, database: str, folder: Path) -> list[Line]:
    """The same page of a kit alike, in a shop with 150 past stays and in one with 510,000: blocks of runs, turn about."""
    kinds = (shops.FEW_STAYS, shops.LARGE)
    medians: dict[str, list[float]] = {kind.name: [] for kind in kinds}
    seen: dict[str, tuple[Visitor, str]] = {}
    for kind in kinds:
        shops.turn_to(kind, folder=folder)
        seen[kind.name] = (Visitor(), face_address())
    for _ in range(8):
        for kind in kinds:
            shops.turn_to(kind, folder=folder)
            visitor, address = seen[kind.name]
            got = in_turn({"product": partial(visitor.get, product, address)}, rounds=25, clock=clock())
            medians[kind.name].append(got["product"])
    few, many = (sorted(medians[kind.name])[len(medians[kind.name]) // 2] for kind in kinds)
    return [Line("1", f"kit face, {shops.LARGE.words}, beside 150", database, many, "ms", few, 1.1, True)]
