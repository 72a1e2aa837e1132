"""Spreadsheets that were never brought in are taken away after a while; the others stay."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.utils import timezone

from kits.models import Event
from reports.models import ImportFile
from tests.reports.spreadsheets import brought_in, sent

pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


def run(**options) -> str:
    out = StringIO()
    call_command("forget_files", stdout=out, **options)
    return out.getvalue()


def test_only_old_files_that_were_never_brought_in_go():
    brought_in("customers", b"Name\nAna\n")
    done = ImportFile.objects.get()
    old, fresh = sent("customers", b"Name\nBob\n", name="old.csv"), sent("customers", b"Name\nCem\n")
    long_ago = timezone.now() - timedelta(days=31)
    ImportFile.objects.filter(pk__in=[old.pk, done.pk]).update(sent_at=long_ago)
    events = Event.objects.count()
    said = run(dry_run=True)
    assert "old.csv, customers" in said and "would be taken away: 1." in said
    assert ImportFile.objects.count() == 3
    assert "taken away: 1." in run()
    assert set(ImportFile.objects.all()) == {done, fresh}
    assert Event.objects.count() == events
    assert "taken away: 0." in run()
    assert "taken away: 0." in run(days=0)  # never those of today
