"""Guessing a password is slow, and does not lock a colleague out."""

import pytest
from django.test import Client

from kits.models import User

RIGHT = "a long right password"


@pytest.fixture
def nadia(db) -> User:
    user = User(username="nadia", name="Nadia", role="office")
    user.set_password(RIGHT)
    user.save()
    return user


def try_password(password: str, address: str = "192.0.2.7", **headers: str) -> int:
    """The status that a sign-in from `address` (a documentation address, RFC 5737) gets; 302 is signed in."""
    return (
        Client(REMOTE_ADDR=address)
        .post("/sign-in/", {"username": "nadia", "password": password}, headers=headers)
        .status_code
    )


def test_the_fifth_wrong_password_closes_the_door_even_to_the_right_one(nadia):
    assert [try_password(f"wrong {number}") for number in range(1, 6)] == [200, 200, 200, 200, 429]
    assert try_password(RIGHT) == 429


def test_a_colleague_at_another_address_still_gets_in(nadia):
    for number in range(5):
        try_password(f"wrong {number}")
    assert try_password(RIGHT, address="192.0.2.8") == 302


def test_the_door_opens_again_after_fifteen_minutes(nadia, time_machine):
    time_machine.move_to("2026-04-14 15:00:00+00:00", tick=False)
    for number in range(5):
        try_password(f"wrong {number}")
    time_machine.shift(14 * 60 + 59)
    assert try_password(RIGHT) == 429
    time_machine.shift(2)
    assert try_password(RIGHT) == 302


def test_a_right_password_forgets_the_wrong_ones_before_it(nadia):
    for _ in range(2):
        assert [try_password("wrong") for _ in range(4)] == [200] * 4
        assert try_password(RIGHT) == 302


def test_an_invented_forwarding_header_does_not_buy_more_tries(nadia):
    tries = [try_password("wrong", **{"X-Forwarded-For": f"198.51.100.{number}"}) for number in range(5)]
    assert tries[-1] == 429


def test_behind_a_proxy_the_address_it_wrote_counts(nadia, settings):
    settings.CLIENT_ADDRESS_HEADER = "X-Forwarded-For"
    for _ in range(5):
        try_password("wrong", **{"X-Forwarded-For": "invented, 198.51.100.1"})
    assert try_password(RIGHT, **{"X-Forwarded-For": "198.51.100.1"}) == 429
    assert try_password(RIGHT, **{"X-Forwarded-For": "198.51.100.2"}) == 302


def test_signing_in_gives_a_new_session(nadia):
    client = Client()
    before = client.session.session_key  # made now, as somebody might plant one on another's phone
    client.post("/sign-in/", {"username": "nadia", "password": RIGHT})
    assert client.session.session_key != before
    assert client.session["_auth_user_id"] == str(nadia.pk)


@pytest.mark.parametrize("elsewhere", ["https://example.org/", "//example.org/", "javascript:alert(1)"])
def test_signing_in_never_leads_to_another_host(nadia, elsewhere):
    answer = Client().post("/sign-in/", {"username": "nadia", "password": RIGHT, "next": elsewhere})
    assert answer.status_code == 302
    assert answer["Location"] == "/"
