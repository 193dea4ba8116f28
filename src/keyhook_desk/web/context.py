"""What every template may use."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from keyhook_desk.people.rights import RIGHTS, may


def shared(request: HttpRequest) -> dict[str, Any]:
    """Return theme, rights and the place on the hook rail."""
    user = getattr(request, "user", None)
    theme = request.COOKIES.get("theme", "")
    return {
        "theme": theme if theme in {"light", "dark"} else "",
        "rights": {name.replace(".", "_"): may(user, name) for name in RIGHTS}
        if user is not None and user.is_authenticated
        else {},
        "here": (request.resolver_match.app_name if request.resolver_match else "") or "",
    }
