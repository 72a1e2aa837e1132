"""The shop's settings, its people, and the first run of an empty shop."""

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import PasswordChangeForm
from django.contrib.auth.views import LoginView, PasswordChangeView
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse, reverse_lazy
from django.utils.decorators import method_decorator
from django.views.decorators.http import require_GET, require_http_methods

from kits.actions import people
from kits.actions.acting import Act, Done
from kits.actions.records import change_record
from kits.forms.people import FirstRunForm, MyPasswordForm, PersonForm, ShopForm, SignInForm
from kits.guarding import prices
from kits.models import Shop, User
from kits.web import EVERYBODY, MANAGER, for_roles, put_refusal, take_step


@method_decorator(login_not_required, name="dispatch")
class SignIn(LoginView):
    """The sign-in page; in a shop that has nobody yet it leads to the first run."""

    authentication_form = SignInForm
    redirect_authenticated_user = True

    def dispatch(self, request: HttpRequest, *args: object, **kwargs: object) -> HttpResponseBase:
        if not User.objects.exists():
            return redirect("first_run")
        return super().dispatch(request, *args, **kwargs)


@method_decorator(for_roles(*EVERYBODY), name="dispatch")
class MyPassword(PasswordChangeView):
    """Everybody changes their own password."""

    form_class = MyPasswordForm
    template_name = "kits/my_password.html"
    success_url = reverse_lazy("my_password")

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        messages.success(self.request, "Your password is changed.")
        return super().form_valid(form)


@login_not_required
@require_http_methods(["GET", "POST"])
def first_run(request: HttpRequest) -> HttpResponse:
    """An empty shop gets its name and its first manager; afterwards this page leads to the sign-in."""
    if User.objects.exists():
        return redirect("sign_in")
    form = FirstRunForm(request.POST or None)
    status = 200
    if form.is_bound:
        status = 422
        if form.is_valid():
            given = form.given()
            shop = {
                "name": given["shop_name"],
                "phone": given["shop_phone"],
                "time_zone": given["time_zone"],
                "temperature_unit": given["temperature_unit"],
                "label_host": request.get_host()[:60],
            }
            manager = {"name": given["name"], "username": given["username"]}
            try:
                user = people.open_shop(shop=shop, manager=manager, password=given["password"])
            except ValidationError as refusal:
                status = 409
                put_refusal(form, refusal)
            else:
                login(request, user, backend="config.sessions.People")
                messages.success(
                    request,
                    f"{shop['name']} is open. Look through the settings, add your people, then bring in your spreadsheets.",
                )
                return redirect("shop")
    return render(request, "first_run.html", {"form": form}, status=status)


@for_roles(*MANAGER)
@require_http_methods(["GET", "POST"])
def shop(request: HttpRequest) -> HttpResponse:
    """What stands on the shop's papers and how it counts."""
    current = Shop.current()
    form = ShopForm(request.POST or None, request.FILES or None, instance=Shop.current())
    return take_step(
        request,
        form,
        lambda act: change_record(act, row=current, changes=form.changes()),
        template="kits/shop.html",
        context={
            "current": current,
            "prices": prices(current, "C" if current.temperature_unit == "C" else "F"),
        },
        then=lambda done: reverse("shop"),
    )


@for_roles(*EVERYBODY)
@require_GET
def logo(request: HttpRequest) -> HttpResponse:
    """The shop's logo."""
    return HttpResponse(bytes(Shop.current().logo_png), content_type="image/png")


@for_roles(*MANAGER)
@require_GET
def person_list(request: HttpRequest) -> HttpResponse:
    """Who can sign in, as what."""
    return render(request, "kits/people.html", {"people": User.objects.order_by("-is_active", "name")})


@for_roles(*MANAGER)
@require_http_methods(["GET", "POST"])
def add_person(request: HttpRequest) -> HttpResponse:
    """A manager adds somebody."""
    form = PersonForm(request.POST or None)

    def do(act: Act) -> Done:
        given = form.given()
        return people.add_person(act, password=given.pop("password"), fields=given)

    return take_step(
        request,
        form,
        do,
        template="kits/person.html",
        context={"person": None},
        then=lambda done: reverse("people"),
    )


@for_roles(*MANAGER)
@require_http_methods(["GET", "POST"])
def change_person(request: HttpRequest, pk: int) -> HttpResponse:
    """A manager changes somebody's role, password, or whether they may sign in."""
    person = get_object_or_404(User, pk=pk)
    form = PersonForm(request.POST or None, instance=get_object_or_404(User, pk=pk))

    def do(act: Act) -> Done:
        given = form.given()
        return people.change_person(act, person=person, password=given.pop("password"), changes=given)

    return take_step(
        request,
        form,
        do,
        template="kits/person.html",
        context={"person": person},
        then=lambda done: reverse("people"),
    )
