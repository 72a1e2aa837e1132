"""Who is signed in, read on every page: Django's sessions in the database and its people, by kept queries."""

from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.contrib.sessions.backends.db import SessionStore as DatabaseSessions
from django.contrib.sessions.models import Session
from django.db.models import BigAutoField, CharField, DateTimeField
from django.utils import timezone

from kits.kept_query import Given, KeptQuery
from kits.models import User

running_session = KeptQuery(
    lambda: Session.objects.filter(
        session_key=Given("key", CharField()), expire_date__gt=Given("now", DateTimeField())
    )
)
person = KeptQuery(lambda: User.objects.filter(pk=Given("pk", BigAutoField())).order_by())


class SessionStore(DatabaseSessions):
    """A session as Django keeps it; reading it is the kept query."""

    def _get_session_from_db(self) -> Session | None:
        found = running_session.first(key=self.session_key, now=timezone.now())
        if found is None:
            self._session_key = None
        return found


class People(ModelBackend):
    """Name and password as Django checks them; who somebody is, on every page, is the kept query."""

    def get_user(self, user_id: Any) -> User | None:
        user = person.first(pk=user_id)
        return user if user is not None and self.user_can_authenticate(user) else None
