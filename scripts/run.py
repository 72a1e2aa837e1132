"""Serve Kitperch on this machine: the demo shop, or with --empty an empty one.

The demo lives in var/demo.sqlite3 and is made once. It is made anew when the code that makes it has changed or when it
is older than a week, since its days count from today; the old file is kept beside it as demo-before.sqlite3.
"""

import argparse
import hashlib
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
VAR = ROOT / "var"
PROGRAMS = Path(sys.executable).parent
DEMO = VAR / "demo.sqlite3"
EMPTY = VAR / "empty.sqlite3"
DEMO_MADE = VAR / "demo.json"
DEMO_KEEPS_DAYS = 7
START_SECONDS = 30


def environment(database: Path) -> dict[str, str]:
    """This machine's own, except that a demo never touches a database the shop has set up for itself."""
    ours = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    ours["KITPERCH_DATABASE"] = str(database)
    ours["KITPERCH_FILES"] = str(VAR / ("empty-files" if database == EMPTY else "demo-files"))
    return ours


def manage(database: Path, *arguments: str) -> None:
    command = [sys.executable, "manage.py", *arguments]
    done = subprocess.run(command, cwd=ROOT, env=environment(database), stdin=subprocess.DEVNULL)
    if done.returncode:
        raise SystemExit(f"manage.py {' '.join(arguments)} failed; nothing is served.")


def demo_code() -> str:
    """Changes when the tables or the story of the demo change."""
    files = [
        path for app in ("kits", "sites", "reports") for path in (ROOT / app / "migrations").glob("*.py")
    ]
    files += (ROOT / "config" / "demo").rglob("*.py")
    files += (ROOT / "config" / "management" / "commands").glob("load_demo.py")
    digest = hashlib.sha256()
    for path in sorted(files):
        digest.update(f"{path.relative_to(ROOT)}\n".encode() + path.read_bytes())
    return digest.hexdigest()


def why_demo_is_outdated(today: date) -> str | None:
    """The reason to make the demo anew, or None."""
    if not DEMO.exists():
        return "there is none yet"
    try:
        made: dict[str, Any] = json.loads(DEMO_MADE.read_text())
        age_days = (today - date.fromisoformat(made["day"])).days
    except (OSError, ValueError, KeyError):
        return "nothing says when it was made"
    if made.get("code") != demo_code():
        return "the code that makes it has changed"
    if not 0 <= age_days <= DEMO_KEEPS_DAYS:
        return f"it was made on {made['day']} and its days count from then"
    return None


def bring_demo_up_to_date() -> None:
    today = datetime.now(UTC).date()
    reason = why_demo_is_outdated(today)
    if reason is None:
        return
    print(f"Making the demo shop ({reason}) ...", flush=True)
    # Made aside and moved into place, so that an interrupted try leaves no half a shop.
    draft = VAR / "demo-draft.sqlite3"
    for leftover in VAR.glob(f"{draft.name}*"):
        leftover.unlink()
    manage(draft, "migrate", "--verbosity", "0")
    manage(draft, "load_demo")
    if DEMO.exists():
        DEMO.replace(VAR / "demo-before.sqlite3")
        print("The demo as it was is kept in var/demo-before.sqlite3.")
    draft.replace(DEMO)
    DEMO_MADE.write_text(json.dumps({"code": demo_code(), "day": today.isoformat()}))


def port_is_free(port: int) -> bool:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except OSError:
            return False
    return True


def answers(address: str) -> bool:
    try:
        with urllib.request.urlopen(f"{address}/sign-in/", timeout=5) as answer:
            return answer.status == 200
    except urllib.error.HTTPError as error:
        raise SystemExit(f"{address}/sign-in/ answers {error.code}; see the log above.") from error
    except OSError:
        return False


def serve(database: Path, port: int, welcome: str) -> int:
    """Start gunicorn, say the welcome once it answers, and stay until it ends."""
    command = [
        *(str(PROGRAMS / "gunicorn"), "config.wsgi", "--bind", f"127.0.0.1:{port}", "--log-level", "warning"),
        *(
            "--worker-class",
            "gthread",
            "--workers",
            "2",
            "--threads",
            "4",
            "--preload",
            "--no-control-socket",
        ),
    ]
    server = subprocess.Popen(command, cwd=ROOT, env=environment(database), stdin=subprocess.DEVNULL)
    signal.signal(signal.SIGTERM, lambda *_: server.terminate())
    try:
        address = f"http://127.0.0.1:{port}"
        give_up_at = time.monotonic() + START_SECONDS
        while server.poll() is None and not answers(address):
            if time.monotonic() > give_up_at:
                raise SystemExit(f"{address} did not answer within {START_SECONDS} seconds.")
            time.sleep(0.1)
        if server.poll() is None:
            print(f"\n{welcome.format(address=address)}\n\nStop with Ctrl-C.", flush=True)
        return server.wait()
    except KeyboardInterrupt:
        return 0
    finally:
        server.terminate()
        server.wait()


def demo_welcome() -> str:
    sys.path.insert(0, str(ROOT))
    from config.demo.logins import FIRST_CLICKS, LOGINS

    people = "\n".join(
        f"  {login.role:<11} {login.username:<11} {login.password:<22} {login.first_click}"
        for login in LOGINS
    )
    return f"Kitperch, the demo shop: {{address}}\n\n{people}\n\n{FIRST_CLICKS}"


EMPTY_WELCOME = "Kitperch, an empty shop: {address}\nThe first page makes the first manager."


def main() -> int:
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    arguments.add_argument("--port", type=int, default=8000)
    arguments.add_argument("--empty", action="store_true", help="an empty shop in var/empty.sqlite3")
    given = arguments.parse_args()
    if not port_is_free(given.port):
        raise SystemExit(
            f"Port {given.port} is taken on this machine. Choose another: make run PORT={given.port + 1}"
        )
    VAR.mkdir(mode=0o700, exist_ok=True)
    database = EMPTY if given.empty else DEMO
    if not given.empty:
        bring_demo_up_to_date()
    manage(database, "migrate", "--verbosity", "0")
    manage(database, "collectstatic", "--noinput", "--verbosity", "0")
    return serve(database, given.port, EMPTY_WELCOME if given.empty else demo_welcome())


if __name__ == "__main__":
    raise SystemExit(main())
