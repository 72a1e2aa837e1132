"""A customer typed into the form of something else: made in the same transaction, under a request id of their own."""

from collections.abc import Callable
from dataclasses import replace
from uuid import uuid5

from kits.actions.acting import Act, Done
from kits.actions.records import add_record
from kits.promises import kept
from sites.models import Customer


def with_newcomer(
    act: Act, then: Callable[[Customer | None], Done], *, name: str = "", phone: str = "", email: str = ""
) -> Done:
    """Do `then` with the new customer of that name (None without a name). Both happen or neither does."""

    def both() -> Done:
        if not name:
            return then(None)
        # The event and the receipt of a request are one each: the customer's own id follows from the request's.
        own = replace(act, request_id=uuid5(act.request_id, "customer"), based_on=None)
        fields = {"name": name, "phone": phone, "email": email}
        return then(add_record(own, row=Customer(), fields=fields).row(Customer))

    return kept(both)
