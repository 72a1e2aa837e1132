"""Section 7: how soon the first page comes after a start, and what a worker weighs after some pages."""

import os
import re
import signal
import socket
import statistics
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

from scripts.bench.timing import Line

ROOT = Path(__file__).resolve().parent.parent.parent
STARTS = 5
BARE = "scripts.bench.bare_wsgi:application"


def measure(database: str, environment: dict[str, str], pages: list[str], cookie: str) -> list[Line]:
    """gunicorn with the product, beside gunicorn with a WSGI function that answers two letters."""
    starts: dict[str, list[float]] = {BARE: [], "config.wsgi": []}
    processor: dict[str, list[float]] = {BARE: [], "config.wsgi": []}
    weights: dict[str, list[float]] = {BARE: [], "config.wsgi": []}
    for _ in range(STARTS):
        for module in starts:
            seconds, busy, mebibytes = one_start(
                module, environment, pages if module == "config.wsgi" else ["/"], cookie
            )
            starts[module].append(seconds)
            processor[module].append(busy)
            weights[module].append(mebibytes)
    first, floor = (statistics.median(starts[module]) for module in ("config.wsgi", BARE))
    busy, idle = (statistics.median(processor[module]) for module in ("config.wsgi", BARE))
    weight, least = (statistics.median(weights[module]) for module in ("config.wsgi", BARE))
    return [
        Line("7", "first page after start", database, first, "s", floor, 1.0),
        Line("7", "the same, processor time of all", database, busy, "s", idle, 1.0),
        Line("7", f"a worker after {len(pages)} pages", database, weight, "MiB", least, 90),
    ]


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def one_start(
    module: str, environment: dict[str, str], pages: list[str], cookie: str
) -> tuple[float, float, float]:
    """Seconds until the first page is there, the processor's seconds of all its processes by then, and the resident mebibytes of the heaviest worker after all pages."""
    port = free_port()
    command = [
        *(str(Path(sys.executable).parent / "gunicorn"), module, "--bind", f"127.0.0.1:{port}", "--preload"),
        *("--worker-class", "gthread", "--workers", "2", "--threads", "4"),
        *("--no-control-socket", "--log-level", "error"),
    ]
    began = time.perf_counter()
    server = subprocess.Popen(command, cwd=ROOT, env=environment, stdin=subprocess.DEVNULL)
    try:
        while True:
            try:
                read(f"http://127.0.0.1:{port}{pages[0]}", cookie)
                break
            except OSError:
                assert server.poll() is None, "gunicorn ended"
                assert time.perf_counter() - began < 60, "no page within a minute"
                time.sleep(0.01)
        seconds = time.perf_counter() - began
        busy = processor_seconds(server.pid) + sum(
            processor_seconds(worker) for worker in children(server.pid)
        )
        for page in pages * 4:
            read(f"http://127.0.0.1:{port}{page}", cookie)
        return seconds, busy, max(resident(worker) for worker in children(server.pid))
    finally:
        server.send_signal(signal.SIGTERM)
        server.wait()


def read(address: str, cookie: str) -> bytes:
    request = urllib.request.Request(address, headers={"Cookie": cookie})
    with urllib.request.urlopen(request, timeout=30) as answer:
        body: bytes = answer.read()
        assert "/sign-in/" not in answer.url, "not signed in"
        return body


def children(process: int) -> list[int]:
    return [int(child) for child in Path(f"/proc/{process}/task/{process}/children").read_text().split()]


def resident(process: int) -> float:
    found = re.search(r"VmRSS:\s+(\d+) kB", Path(f"/proc/{process}/status").read_text())
    assert found, os.strerror(3)
    return int(found[1]) / 1024


def processor_seconds(process: int) -> float:
    """What a process has used of the processor since it began."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
