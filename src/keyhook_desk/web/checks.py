"""System checks of the desk, each with a stable id; ``migrate`` and ``serve`` run them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from django.apps.config import AppConfig
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register  # noqa: A004  # Django's own name
from django.urls import URLPattern, URLResolver, get_resolver


def views_of(resolver: URLResolver | None = None, prefix: str = "") -> Iterator[tuple[str, URLPattern]]:
    """Yield every address of the desk by name, walked from the one list of addresses."""
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            yield from views_of(entry, f"{prefix}{entry.namespace}:" if entry.namespace else prefix)
        elif isinstance(entry, URLPattern):
            yield f"{prefix}{entry.name}", entry


def is_open(pattern: URLPattern) -> bool:
    """Tell whether an address may be seen without logging in."""
    return getattr(pattern.callback, "login_required", True) is False


@register(Tags.security)
def every_view_asks_for_a_right(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """keyhook.E001: a view that is neither open nor behind a right."""
    _ = app_configs, kwargs
    return [
        Error(
            f"The address {name} asks for no right.",
            hint="Put @needs(...) on its view, or @login_not_required when it is for everybody.",
            id="keyhook.E001",
        )
        for name, pattern in views_of()
        if not is_open(pattern) and not hasattr(pattern.callback, "right") and name != "people:logout"
    ]


@register(Tags.security)
def the_clock_runs(app_configs: Sequence[AppConfig] | None, **kwargs: Any) -> list[CheckMessage]:
    """keyhook.W001: the desk serves with https, so in earnest, and yet its clock stands still."""
    _ = app_configs, kwargs
    if not settings.NOW or settings.INSECURE:
        return []
    hint = "Leave KEYHOOK_NOW out; it is for the demo and for tests."
    return [
        Warning(f"The clock of this desk stands still at {settings.NOW:%Y-%m-%d %H:%M}.", hint=hint, id="keyhook.W001")
    ]
