"""Logging in and out, and the people who may."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.core.exceptions import SuspiciousOperation
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from keyhook.errors import KeyhookError
from keyhook_desk.people.models import Role, User
from keyhook_desk.people.rights import needs
from keyhook_desk.people.services import add_person, may_try, note_failure, set_role


class Login(LoginView):
    """The way in."""

    template_name = "people/login.html"
    redirect_authenticated_user = True

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Let somebody in, unless this login has failed too often from there."""
        if may_try(**self._who()):
            return super().post(request, *args, **kwargs)
        said = f"Too many tries did not work. Wait {settings.LOGIN_PAUSE_MIN} minutes, or ask a manager."
        return render(request, "web/error.html", {"title": "The door is shut for a while", "said": said}, status=429)

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        """Note the failure."""
        note_failure(**self._who())
        return super().form_invalid(form)

    def _who(self) -> dict[str, str]:
        return {
            "username": self.request.POST.get("username", ""),
            "address": self.request.META.get("REMOTE_ADDR", ""),
        }


@require_http_methods(["GET", "POST"])
@needs("people.edit")
def listing(request: HttpRequest) -> HttpResponse:
    """Who may log in; add somebody, change a role."""
    if request.method == "POST":
        try:
            _act(request)
        except KeyhookError as error:
            messages.error(request, str(error))
        return redirect("people:listing")
    people = User.objects.order_by("-is_active", "username")
    return render(request, "people/listing.html", {"people": people, "roles": Role.choices})


def _act(request: HttpRequest) -> None:
    given = request.POST
    if given.get("role", "") not in Role.values:
        raise SuspiciousOperation("no such role")
    role = Role(given["role"])
    actor: User = request.user  # type: ignore[assignment]
    if "add" in given:
        add_person(
            actor=actor,
            username=given.get("username", "").strip(),
            full_name=given.get("full_name", "").strip(),
            role=role,
            password=given.get("password", ""),
        )
        messages.success(request, f"{given.get('username')} may log in now.")
    else:
        person = get_object_or_404(User, username=given.get("username", ""))
        set_role(actor=actor, person=person, role=role, active=given.get("active") == "yes")
        messages.success(request, f"{person.username} is {role.label.lower()} now.")
