"""What may be typed at the bench: the condition of a kit, how a follow-up ended."""

from typing import Any

from django import forms

from kits.models import Condition
from kits.web import StepForm


class ConditionForm(StepForm):
    """In service, or needs work and why."""

    condition = forms.ChoiceField(label="Condition", choices=Condition.choices, widget=forms.RadioSelect)
    why = forms.CharField(
        label="What is wrong",
        max_length=200,
        required=False,
        help_text="So that the bench knows what to mend. Nothing about customers here.",
    )

    field_order = ["condition", "why"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("condition") == Condition.NEEDS_WORK and not (cleaned.get("why") or "").strip():
            self.add_error("why", "Say what is wrong with the kit, so that the bench knows what to mend.")
        return cleaned


class FollowUpDoneForm(StepForm):
    """How a follow-up ended."""

    outcome = forms.CharField(
        label="How it ended", max_length=200, help_text="In a few words. Nothing about customers here."
    )

    field_order = ["outcome"]
