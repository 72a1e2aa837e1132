"""Who can sign in to the demo shop. `make run` prints this table; `load_demo` makes these people."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Login:
    """One invented person of the demo shop. The passwords are for trying only and stand in the open."""

    role: str
    username: str
    name: str
    password: str
    first_click: str


LOGINS = (
    Login("office", "office", "Nadia Holt", "tag-on-the-shelf", "the day sheet: who has to be called now"),
    Login(
        "technician", "technician", "Ben Okafor", "tag-on-the-truck", "the truck list, at the size of a phone"
    ),
    Login(
        "manager", "manager", "Ruth Lindqvist", "tag-on-the-bench", "a kit with a long past, then its stays"
    ),
)

FIRST_CLICKS = "Sign in as office, open the day sheet, and follow the first line under Call someone now."
