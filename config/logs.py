"""What a log must not hold."""

import logging
import re

# The token in the address of a calendar opens it without signing in.
SECRET_ADDRESS = re.compile(r"(?<=/calendar/)[^/\s\"']+(?=\.ics)")


class HideSecretAddresses(logging.Filter):
    """Writes three dots for the secret part of every address that a message tells."""

    def filter(self, record: logging.LogRecord) -> bool:
        message = record.getMessage()
        if "/calendar/" in message:
            record.msg, record.args = SECRET_ADDRESS.sub("...", message), ()
        return True
