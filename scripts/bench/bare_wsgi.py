"""The least that a server can serve."""

from collections.abc import Callable, Iterable
from typing import Any


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
    start_response("200 OK", [("Content-Type", "text/plain"), ("Content-Length", "2")])
    return [b"ok"]
