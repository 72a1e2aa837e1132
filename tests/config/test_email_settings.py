"""E-mail is set by the environment: the console without a server, and a clear refusal of what could not work."""

import pytest
from django.core.exceptions import ImproperlyConfigured

from config import settings as ours

NAMES = ("HOST", "PORT", "USER", "PASSWORD", "SECURITY", "FROM")
SERVER = {"HOST": "mail.example.com", "FROM": "Larkspur <kits@example.com>"}
SIGNED_IN = {**SERVER, "USER": "kits", "PASSWORD": "a secret"}


@pytest.fixture
def environment(monkeypatch):
    def given(**words: str) -> dict[str, object]:
        for name in NAMES:
            monkeypatch.delenv(f"KITPERCH_EMAIL_{name}", raising=False)
        for name, word in words.items():
            monkeypatch.setenv(f"KITPERCH_EMAIL_{name}", word)
        return ours.email_settings()

    return given


def test_without_a_server_it_is_written_to_the_console(environment):
    assert environment()["EMAIL_BACKEND"].endswith("console.EmailBackend")


# Ports: RFC 6409 (587, submission), RFC 8314 (465, submissions: TLS from the start), RFC 5321 (25).
@pytest.mark.parametrize(
    "words, port, starts_tls, is_tls",
    [
        pytest.param(SIGNED_IN, 587, True, False, id="usual"),
        pytest.param({**SIGNED_IN, "SECURITY": "TLS"}, 465, False, True, id="tls from the start"),
        pytest.param({**SERVER, "SECURITY": "none"}, 25, False, False, id="nothing secret"),
        pytest.param({**SIGNED_IN, "PORT": "2525"}, 2525, True, False, id="a port of its own"),
        pytest.param(
            {**SIGNED_IN, "HOST": "localhost", "SECURITY": "none"}, 25, False, False, id="on this machine"
        ),
    ],
)
def test_a_server_is_used_as_told(environment, words, port, starts_tls, is_tls):
    found = environment(**words)
    assert found["EMAIL_BACKEND"].endswith("smtp.EmailBackend")
    assert (found["EMAIL_HOST"], found["EMAIL_PORT"]) == (words["HOST"], port)
    assert (found["EMAIL_USE_TLS"], found["EMAIL_USE_SSL"]) == (starts_tls, is_tls)
    assert found["DEFAULT_FROM_EMAIL"] == SERVER["FROM"]
    assert 0 < found["EMAIL_TIMEOUT"] <= 20  # a sheet is written down while it is sent: others wait for that


@pytest.mark.parametrize(
    "words, sentence",
    [
        pytest.param({"HOST": "mail.example.com"}, "KITPERCH_EMAIL_FROM", id="no sender"),
        pytest.param(
            {**SERVER, "FROM": "the office"}, "like kits@example.com", id="a sender without address"
        ),
        pytest.param({**SERVER, "HOST": "smtp://mail.example.com"}, "name of the mail server", id="a URL"),
        pytest.param({**SERVER, "HOST": "kits@example.com"}, "name of the mail server", id="an address"),
        pytest.param({**SERVER, "SECURITY": "yes"}, "'starttls', 'tls' or 'none'", id="no such security"),
        pytest.param({**SERVER, "PORT": "smtp"}, "KITPERCH_EMAIL_PORT='smtp'", id="a port in letters"),
        pytest.param({**SERVER, "PORT": "0"}, "from 1 to 65535", id="port 0"),
        pytest.param({**SERVER, "PORT": "65536"}, "from 1 to 65535", id="port too high"),
        pytest.param({**SERVER, "PORT": "²"}, "from 1 to 65535", id="a digit that is no number"),
        pytest.param({**SERVER, "USER": "kits"}, "or neither", id="a name without password"),
        pytest.param({**SERVER, "PASSWORD": "a secret"}, "or neither", id="a password without name"),
        pytest.param({**SIGNED_IN, "SECURITY": "none"}, "readably", id="a password for all to read"),
        pytest.param({"USER": "kits", "PASSWORD": "a secret"}, "without KITPERCH_EMAIL_HOST", id="no server"),
    ],
)
def test_what_could_not_work_is_refused(environment, words, sentence):
    with pytest.raises(ImproperlyConfigured) as refusal:
        environment(**words)
    assert sentence in str(refusal.value)
    assert "a secret" not in str(refusal.value)
