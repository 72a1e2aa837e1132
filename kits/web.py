"""Between the browser and the actions: who may, one POST a step, answered as a page or as JSON by the same action."""

import hashlib
import json
from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any, ClassVar, TypeVar
from uuid import UUID, uuid4

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone

from kits.actions.acting import Act, Done
from kits.models import Receipt, Role, Told, User
from kits.models.base import Versioned

EVERYBODY = (Role.OFFICE, Role.TECHNICIAN, Role.MANAGER)
OFFICE = (Role.OFFICE, Role.MANAGER)
MANAGER = (Role.MANAGER,)
BENCH = (Role.TECHNICIAN, Role.MANAGER)

View = TypeVar("View", bound=Callable[..., HttpResponseBase])


def for_roles(*roles: Role) -> Callable[[View], View]:
    """Open a view to people of these roles; signed-out people are sent to sign in by the middleware."""

    def guard(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if user_of(request).role not in roles:
                raise PermissionDenied
            return view(request, *args, **kwargs)

        guarded.roles = roles  # type: ignore[attr-defined]
        return guarded  # type: ignore[return-value]

    return guard


def user_of(request: HttpRequest) -> User:
    """The person who is signed in. Only for views that are not open to strangers."""
    if not isinstance(request.user, User):
        raise PermissionDenied
    return request.user


class LocalDateTime(forms.DateTimeInput):
    """A date and time field of the browser, in the zone that is active."""

    input_type = "datetime-local"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%dT%H:%M")


class Day(forms.DateInput):
    """A date field of the browser."""

    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%d")


DJANGOS_REQUIRED = forms.Field.default_error_messages["required"]


def say_plainly(field: forms.Field) -> None:
    """Put sentences of ours where a field would speak in Django's words."""
    if field.error_messages.get("required") == DJANGOS_REQUIRED:
        field.error_messages["required"] = "This is needed."
    for validator in field.validators:
        if isinstance(validator, MinValueValidator):
            validator.message = "It must be at least %(limit_value)s."
        elif isinstance(validator, MaxValueValidator):
            validator.message = "It must be at most %(limit_value)s."


class StepForm(forms.Form):
    """What every step sends along: its request id, what it was based on, and, when told later, when and by whom."""

    request_id = forms.UUIDField(widget=forms.HiddenInput, required=False)
    based_on = forms.CharField(widget=forms.HiddenInput, required=False, max_length=40)
    happened_at = forms.DateTimeField(
        label="When it happened, if not just now", required=False, widget=LocalDateTime()
    )
    did_by = forms.ModelChoiceField(
        label="Who did it, if not you", queryset=User.objects.filter(is_active=True), required=False
    )
    did_by_name = forms.CharField(
        label="Or a name, of somebody who cannot sign in here", required=False, max_length=80
    )

    # The fields above that are shown only when asked for; templates draw them under "Not just now, or not you?".
    TOLD_LATER: ClassVar[tuple[str, ...]] = ("happened_at", "did_by", "did_by_name")

    def __init__(self, *args: Any, subject: Versioned | None = None, **kwargs: Any) -> None:
        initial = {"request_id": uuid4(), "based_on": "" if subject is None else subject.version}
        kwargs["initial"] = {**initial, **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)
        self.subject = subject
        for field in self.fields.values():
            say_plainly(field)

    def clean_based_on(self) -> int | UUID | None:
        """A version the person saw, or the request this step builds on."""
        text = self.cleaned_data["based_on"]
        if not text:
            return None
        try:
            return int(text) if text.isdigit() else UUID(text)
        except ValueError:
            raise ValidationError("This page is out of order. Open it again.") from None

    def told_later(self) -> list[forms.BoundField]:
        return [self[name] for name in self.TOLD_LATER if name in self.fields]

    def own_fields(self) -> list[forms.BoundField]:
        """The visible fields that belong to the step itself."""
        return [field for field in self.visible_fields() if field.name not in self.TOLD_LATER]

    def given(self) -> dict[str, Any]:
        """What was typed into the step's own fields; a browser's line ends are no change of a text."""
        common = {"request_id", "based_on", *self.TOLD_LATER}
        return {
            name: value.replace("\r\n", "\n") if isinstance(value, str) else value
            for name, value in self.cleaned_data.items()
            if name not in common
        }


class RecordForm(StepForm, forms.ModelForm):
    """A step that adds or changes one plain record. It never saves by itself: an action does."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        instance = kwargs.get("instance")
        kwargs.setdefault("subject", instance if instance is not None and instance.pk else None)
        super().__init__(*args, **kwargs)
        for name in self.TOLD_LATER:
            self.fields.pop(name, None)


def payload_of(request: HttpRequest) -> QueryDict:
    """What was sent, whether as a form or as one flat JSON object (a list gives a name several values)."""
    if request.content_type != "application/json":
        return request.POST
    payload = QueryDict(mutable=True)
    try:
        sent = json.loads(request.body or b"{}")
        items = sent.items()
    except (ValueError, AttributeError):
        raise ValidationError("Send one flat JSON object.") from None
    for name, value in items:
        values = value if isinstance(value, list) else [value]
        payload.setlist(name, ["" if item is None else str(item) for item in values])
    return payload


def act_of(request: HttpRequest, form: StepForm, *, why: str = "") -> Act:
    """The act behind a valid step form."""
    cleaned = form.cleaned_data
    user = user_of(request)
    now = timezone.now()
    did_by, name = cleaned.get("did_by"), (cleaned.get("did_by_name") or "").strip()
    told = Told.PHONE if (did_by and did_by != user) or name else Told.SELF
    return Act(
        typed_by=user,
        recorded_at=now,
        happened_at=cleaned.get("happened_at") or now,
        did_by=None if name else (did_by or user),
        did_by_name=name,
        answers_for=did_by or user,
        told=told,
        why=why or cleaned.get("why") or "",
        request_id=cleaned.get("request_id") or uuid4(),
        based_on=cleaned.get("based_on"),
        payload_sha256=fingerprint(request),
    )


# Tokens and versions may differ when a request is sent again; a password kept as a fast hash would be given away.
NOT_FINGERPRINTED = {"csrfmiddlewaretoken", "based_on", "password"}


def fingerprint(request: HttpRequest) -> str:
    """SHA-256 of what was sent where: the same request again has the same one, whatever it was based on."""
    sent = sorted(
        (key, values) for key, values in payload_of(request).lists() if key not in NOT_FINGERPRINTED
    )
    return hashlib.sha256(json.dumps([request.path, sent]).encode()).hexdigest()


def done_before(request: HttpRequest, form: StepForm) -> Done | None:
    """The answer this very request got when it first came, if it did.

    Asked before the form is checked: what a step did can be the reason why its form would not be valid a second time.
    """
    try:
        request_id = UUID(form.data.get(form.add_prefix("request_id")) or "")
    except ValueError:
        return None
    receipt = Receipt.objects.filter(user=request.user.pk, request_id=request_id).first()
    if receipt is None or not receipt.answer or receipt.payload_sha256 != fingerprint(request):
        return None
    return Done.from_answer(receipt.answer)


def wants_json(request: HttpRequest) -> bool:
    return "application/json" in request.headers.get("Accept", "")


def take_step(
    request: HttpRequest,
    form: StepForm,
    do: Callable[[Act], Done],
    *,
    template: str,
    context: Mapping[str, Any],
    then: Callable[[Done], str],
    say: Callable[[Done], str] | None = None,
) -> HttpResponse:
    """Show the form, or do the step and go on to `then(done)`. A refusal keeps everything that was typed.

    `say` words what was done for the page after it, where the event's own sentence may not name a place.

    JSON answers: 200 done (also when done before), 422 not understood, 409 refused; `code` says why.
    """
    status = 200
    before = done_before(request, form) if form.is_bound else None
    if before or (form.is_bound and form.is_valid()):
        try:
            done = before or do(act_of(request, form))
        except ValidationError as refusal:
            code = put_refusal(form, refusal)
            if wants_json(request):
                return refused_answer(form, code)
            status = 409
        else:
            if wants_json(request):
                answer = {"ok": True, "sentence": done.sentence, "version": done.version, "again": done.again}
                return JsonResponse({**answer, "subjects": [list(pair) for pair in done.subjects]})
            messages.success(request, f"{say(done) if say else done.sentence}.")
            return redirect(then(done))
    elif form.is_bound:
        if wants_json(request):
            return refused_answer(form, "not_understood", status=422)
        status = 422
    return render(request, template, {**context, "form": form}, status=status)


def put_refusal(form: StepForm, refusal: ValidationError) -> str:
    """Hang a refusal on the fields it speaks of, the rest on the form; returns its code.

    After a stale step the form is based on what the shop holds now, so that it can be looked at and sent again.
    """
    code = getattr(refusal, "code", None) or "refused"
    if hasattr(refusal, "error_dict"):
        for name, errors in refusal.error_dict.items():
            form.add_error(name if name in form.fields else None, errors)
    else:
        form.add_error(None, refusal)
    if code == "stale" and form.subject is not None:
        fresh = type(form.subject)._default_manager.get(pk=form.subject.pk)
        sent = QueryDict(mutable=True)
        sent.update(form.data)
        sent[form.add_prefix("based_on")] = str(fresh.version)
        form.data = sent
    return code


def refused_answer(form: StepForm, code: str, *, status: int = 409) -> JsonResponse:
    errors = {name: [str(error) for error in found] for name, found in form.errors.items()}
    sentences = [sentence for found in errors.values() for sentence in found]
    answer = {"ok": False, "code": code, "sentence": " ".join(sentences), "errors": errors}
    return JsonResponse(answer, status=status)
