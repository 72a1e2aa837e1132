"""The secret address of one's own calendar: made, and revoked. The token itself never comes here, only its SHA-256."""

from kits.actions.acting import Act, Done, action, record
from kits.models import User
from kits.promises import Refused
from sites.models import CalendarAddress


@action
def make_calendar_address(act: Act, *, token_sha256: str) -> Done:
    """The person gets an address for their calendar; one they had before opens nothing any more."""
    former = revoke_live(act)
    row = CalendarAddress(user=act.typed_by, token_sha256=token_sha256, made_at=act.recorded_at)
    row.full_clean()
    row.save()
    sentence = "Calendar address made" + (", the former one revoked" if former else "")
    return record(act, "calendar address made", sentence, about=[row, *former])


@action
def revoke_calendar_address(act: Act) -> Done:
    """The person's address opens nothing any more."""
    revoked = revoke_live(act)
    if not revoked:
        raise Refused("You have no calendar address now, so there is nothing to revoke.")
    return record(act, "calendar address revoked", "Calendar address revoked", about=revoked)


def revoke_live(act: Act) -> list[CalendarAddress]:
    """Revoke what the person has; of two who do this at once the second waits."""
    User.objects.select_for_update(no_key=True).get(pk=act.typed_by.pk)
    live = list(CalendarAddress.objects.filter(user=act.typed_by, revoked_at=None))
    for row in live:
        row.revoked_at = max(act.recorded_at, row.made_at)
        row.save(update_fields=["revoked_at"])
    return live
