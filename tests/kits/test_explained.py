"""Every field that is explained exists in a form, and the explanation stands beside it."""

import pytest
from django import forms
from django.urls import reverse

from kits.explained import EXPLAINED
from kits.web import StepForm
from tests import make

# Not in the class: their unit or choices depend on the shop and the kit. Seen on their pages below.
MADE_WITH_THE_FORM = {
    *("rated_to", "terminal", "offset_kelvin", "uncertainty_kelvin"),
    *("points", "uniformity", "stability", "pressure", "sensor_limit_kelvin", "replace_beyond_kelvin"),
}


def form_classes(parent: type[forms.Form]) -> set[type[forms.Form]]:
    return {child for direct in parent.__subclasses__() for child in (direct, *form_classes(direct))}


def test_each_explained_field_stands_in_some_form():
    import config.urls  # noqa: F401 - loads every view and with it every form

    names = {name for form in form_classes(StepForm) for name in form.base_fields}
    assert set(EXPLAINED) <= names | MADE_WITH_THE_FORM


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("page", "name"),
    [
        ("kit_new", "adapter_isolated"),
        ("kit_new", "rated_to"),
        ("sensor_new", "rom"),
        ("sensor_new", "terminal"),
        ("sensor_offset", "offset_kelvin"),
        ("sensor_offset", "uncertainty_kelvin"),
        ("check_new", "points"),
        ("check_new", "uniformity"),
        ("check_new", "stability"),
        ("check_new", "pressure"),
        ("shop", "sensor_limit_kelvin"),
        ("shop", "replace_beyond_kelvin"),
    ],
)
def test_the_explanation_is_beside_the_field(page, name, manager_client):
    make.kit()
    address = reverse(page, args=[make.sensor().rom]) if page == "sensor_offset" else reverse(page)
    answer = manager_client.get(address).content.decode()
    assert "What is this?" in answer
    assert EXPLAINED[name][:40] in answer.replace("&#x27;", "'")


@pytest.mark.django_db
def test_a_field_that_speaks_for_itself_is_not_explained(office_client):
    make.shop()
    answer = office_client.get(reverse("customer_new")).content.decode()
    assert "What is this?" not in answer
