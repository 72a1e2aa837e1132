"""The shop itself and the people who sign in."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.db import transaction

from kits.actions.acting import Act, Done, action, hold, record
from kits.actions.records import apply
from kits.models import Custody, Place, Role, Shop, User
from kits.promises import Refused


def open_shop(*, shop: Mapping[str, Any], manager: Mapping[str, Any], password: str) -> User:
    """First run: make the shop and its first manager. Refused once anybody can sign in."""
    with transaction.atomic():
        if User.objects.select_for_update().exists():
            raise Refused("This shop has people already. Sign in, and a manager can add more.")
        user = User(role=Role.MANAGER, is_active=True)
        validate_password(password, user)
        user.set_password(password)
        apply(user, manager)
        row = Shop(pk=1, **shop)
        row.full_clean(exclude=["id"])
        row.save(force_insert=True)  # of two first runs at once, the second fails here
    return user


@action
def add_person(act: Act, *, fields: Mapping[str, Any], password: str) -> Done:
    """A manager adds somebody who can sign in, with a first password to be changed."""
    managers_only(act)
    user = User()
    validate_password(password, user)
    user.set_password(password)
    apply(user, fields)
    return record(
        act, "person added", f"{user} can sign in as {user.get_role_display().lower()}", about=[user]
    )


@action
def change_person(act: Act, *, person: User, changes: Mapping[str, Any], password: str = "") -> Done:
    """A manager changes a person's name, role, password, or whether they may sign in."""
    managers_only(act)
    person = hold(person, based_on=act.based_on, act=act)
    leaves = changes.get("is_active") is False or changes.get("role", person.role) != Role.MANAGER
    others = User.objects.filter(role=Role.MANAGER, is_active=True).exclude(pk=person.pk)
    if person.is_manager and person.is_active and leaves and not others.exists():
        raise Refused("This is the last manager. Make somebody else manager first.")
    if changes.get("is_active") is False:
        carried = Custody.objects.filter(place=Place.TRUCK, technician=person, held_until=None)
        if codes := [row.kit.code for row in carried.select_related("kit")]:
            raise Refused(f"{person} still has {', '.join(codes)} on the truck. Move these first.")
    if password:
        validate_password(password, person)
        person.set_password(password)
    changed = apply(person, changes)
    words = ", ".join([*changed, *(["password"] if password else [])]) or "nothing"
    return record(act, "person changed", f"{person}: {words} changed", about=[person])


def managers_only(act: Act) -> None:
    """Refuse what only a manager may do."""
    if not act.typed_by.is_manager:
        raise Refused("Only a manager may do this. Ask one.", code="managers_only")
