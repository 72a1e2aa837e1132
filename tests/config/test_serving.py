"""The shop as `make run` serves it: gunicorn, collected static files, headers. One start for all tests here."""

import http.client
import os
import re
import secrets
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

START_SECONDS = 30


def manage(*arguments: str, environment: dict[str, str]) -> None:
    command = [sys.executable, "manage.py", *arguments]
    done = subprocess.run(command, cwd=settings.BASE_DIR, env=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def fetch(port: int, path: str, **headers: str) -> tuple[http.client.HTTPResponse, bytes]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    connection.request("GET", path, headers=headers)
    answer = connection.getresponse()
    return answer, answer.read()


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    """The port of a shop with one person, in a folder of its own."""
    folder: Path = tmp_path_factory.mktemp("served")
    environment = {
        **{name: value for name, value in os.environ.items() if name != "DATABASE_URL"},
        "KITPERCH_DATABASE": str(folder / "shop.sqlite3"),
        "KITPERCH_STATIC": str(folder / "static"),
        "KITPERCH_SECRET_KEY_FILE": str(folder / "secret.key"),
        "DJANGO_SUPERUSER_PASSWORD": secrets.token_urlsafe(),
    }
    manage("migrate", "--verbosity", "0", environment=environment)
    person = ["--username", "ruth", "--name", "Ruth", "--role", "manager"]
    manage("createsuperuser", "--noinput", *person, environment=environment)
    manage("collectstatic", "--noinput", "--verbosity", "0", environment=environment)
    port = free_port()
    command = [sys.executable, "-m", "gunicorn", "config.wsgi", "--bind", f"127.0.0.1:{port}"]
    command += [
        "--worker-class",
        "gthread",
        "--threads",
        "2",
        "--no-control-socket",
        "--log-level",
        "warning",
    ]
    server = subprocess.Popen(command, cwd=settings.BASE_DIR, env=environment)
    try:
        give_up_at = time.monotonic() + START_SECONDS
        while True:
            assert server.poll() is None, "gunicorn ended by itself"
            assert time.monotonic() < give_up_at, "gunicorn does not answer"
            try:
                fetch(port, "/sign-in/")
                break
            except OSError:
                time.sleep(0.05)
        yield port
    finally:
        server.terminate()
        server.wait()


def test_the_sign_in_page_is_served_with_every_file_it_names(served):
    answer, page = fetch(served, "/sign-in/")
    assert answer.status == 200
    files = re.findall(r'(?:href|src)="(/static/[^"]+)"', page.decode())
    assert files
    for path in files:
        found, _ = fetch(served, path)
        assert found.status == 200, path


def test_static_files_carry_their_content_in_their_name_so_browsers_may_keep_them(served):
    _, page = fetch(served, "/sign-in/")
    sheet = re.search(r'href="(/static/css/kitperch\.[0-9a-f]{12}\.css)"', page.decode())
    assert sheet
    answer, _ = fetch(served, sheet[1], **{"Accept-Encoding": "gzip"})
    assert answer.getheader("Content-Encoding") == "gzip"
    assert "immutable" in (answer.getheader("Cache-Control") or "")


def test_every_answer_tells_the_browser_what_it_may_do(served):
    answer, _ = fetch(served, "/sign-in/")
    policy = dict(
        part.strip().split(" ", 1)
        for part in (answer.getheader("Content-Security-Policy") or "").split(";")
        if part
    )
    assert policy["object-src"] == policy["base-uri"] == policy["frame-ancestors"] == "'none'"
    assert policy["default-src"] == "'self'"
    assert "unsafe" not in str(policy)
    assert answer.getheader("X-Frame-Options") == "DENY"
    assert answer.getheader("X-Content-Type-Options") == "nosniff"
    assert answer.getheader("Referrer-Policy") == "same-origin"


def test_another_host_name_is_refused(served):
    answer, _ = fetch(served, "/sign-in/", Host="shop.example.com")
    assert answer.status == 400


def test_a_page_behind_the_sign_in_sends_a_stranger_there(served):
    answer, _ = fetch(served, "/")
    assert answer.status == 302
    assert (answer.getheader("Location") or "").startswith("/sign-in/")
