"""The key a kit sends its readings with, and readings from a file. The key itself never comes here, only its SHA-256."""

from collections.abc import Sequence

from kits import live
from kits.actions.acting import Act, Done, action, hold, record
from kits.models import Kit, KitKey
from kits.promises import Refused
from kits.senml import Temperature


@action
def make_key(act: Act, *, kit: Kit, sha256: str) -> Done:
    """The kit gets a key to send its readings with; the one it had before opens nothing any more."""
    kit = hold(kit)
    former = revoke_open(act, kit)
    row = KitKey(kit=kit, sha256=sha256, made_at=act.recorded_at, made_by=act.typed_by)
    row.full_clean()
    row.save()
    sentence = f"Key made for {kit} to send readings with" + (", the former one revoked" if former else "")
    return record(act, "key made", sentence, about=[kit])


@action
def revoke_key(act: Act, *, kit: Kit) -> Done:
    """The kit can send no more readings until it gets a new key."""
    kit = hold(kit)
    if not revoke_open(act, kit):
        raise Refused(f"{kit} has no key now, so there is nothing to revoke.")
    return record(act, "key revoked", f"Key of {kit} revoked", about=[kit])


def revoke_open(act: Act, kit: Kit) -> bool:
    """Revoke the key of a held kit, if it has one."""
    row = live.open_key(kit)
    if row is None:
        return False
    row.revoked_at = max(act.recorded_at, row.made_at)
    row.save(update_fields=["revoked_at"])
    return True


@action
def play_file(act: Act, *, kit: Kit, readings: Sequence[Temperature], name: str) -> Done:
    """Readings from a file, already moved to times from now on, take the place of what an earlier file had left to tell."""
    kit = hold(kit)
    live.stop_playing(kit, act.recorded_at)
    taken = live.keep(kit, readings, now=act.recorded_at)
    sentence = f"{taken.kept} readings of {name[:80]} are played as if {kit} sent them now"
    return record(act, "file played", sentence, about=[kit])


@action
def stop_file(act: Act, *, kit: Kit) -> Done:
    """What is left of a file being played is not told."""
    kit = hold(kit)
    if not live.stop_playing(kit, act.recorded_at):
        raise Refused("No file is being played for this kit.")
    return record(act, "file stopped", f"The file played for {kit} was stopped", about=[kit])
