"""Who may do what: one table, read by views, services and templates alike."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from keyhook_desk.people.models import Role, User

_EVERYBODY = frozenset(Role)
RIGHTS: dict[str, frozenset[Role]] = {
    "day.see": _EVERYBODY,
    "plan.see": _EVERYBODY,
    "plan.make": frozenset({Role.DESK, Role.MANAGER}),
    "task.mark": _EVERYBODY,
    "hire.see": _EVERYBODY,
    "hire.edit": frozenset({Role.DESK, Role.MANAGER}),
    "hire.import": frozenset({Role.DESK, Role.MANAGER}),
    "vehicle.see": _EVERYBODY,
    "ticket.add": frozenset({Role.DESK, Role.YARD, Role.TECHNICIAN, Role.MANAGER}),
    "gate.tick": frozenset({Role.DESK, Role.YARD, Role.TECHNICIAN, Role.MANAGER}),
    "vehicle.edit": frozenset({Role.TECHNICIAN, Role.MANAGER}),
    "tour.see": _EVERYBODY,
    "tour.plan": frozenset({Role.DESK, Role.YARD, Role.MANAGER}),
    "tour.count": frozenset({Role.DESK, Role.MANAGER}),
    "walk.do": _EVERYBODY,
    "pack.send": frozenset({Role.DESK, Role.MANAGER}),
    "pack.photo": frozenset({Role.DESK, Role.TECHNICIAN, Role.MANAGER}),
    "pack.language": frozenset({Role.MANAGER}),
    "people.edit": frozenset({Role.MANAGER}),
}


def may(user: User, right: str) -> bool:
    """Tell whether the user has the right; an unknown right is a mistake in the code, not a no."""
    return bool(user.is_active) and Role(user.role) in RIGHTS[right]


def require(user: User, right: str) -> None:
    """Refuse when the user has not the right."""
    if not may(user, right):
        raise PermissionDenied(f"Your role ({user.get_role_display()}) does not include this. Ask a manager.")


def needs(right: str) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """Guard a view with a right."""
    assert right in RIGHTS

    def guard(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            require(request.user, right)  # type: ignore[arg-type]  # the login middleware lets nobody else through
            return view(request, *args, **kwargs)

        guarded.right = right  # type: ignore[attr-defined]  # read by the check that walks every address
        return guarded

    return guard
