"""How forms draw themselves: `{{ form }}` and `{{ form.name.as_field_group }}` through our own templates."""

from django.forms.renderers import TemplatesSetting


class OurForms(TemplatesSetting):
    """Django's widgets, our field and form layout."""

    form_template_name = "_form.html"
    field_template_name = "_field.html"
