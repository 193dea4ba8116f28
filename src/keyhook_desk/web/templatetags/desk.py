"""What templates need to show findings, figures, times and key tags."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.forms.utils import flatatt
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from keyhook.basis import Figure, Finding
from keyhook.cli.render import number
from keyhook.phrases import say
from keyhook.units import feet_inches_up, pounds
from keyhook_desk.web.typed import Typed

register = template.Library()


@register.filter
def said(finding: Finding) -> str:
    """Return a finding as its sentence."""
    return say(finding.code, finding.values)


@register.filter
def local(moment: dt.datetime, zone: str) -> dt.datetime:
    """Return a moment on the depot's clock."""
    return moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None)


@register.filter
def figure_value(value: Any) -> str:
    """Return a value as a person reads it."""
    return number(value)


@register.filter
def hours_minutes(minutes: int | None) -> str:
    """Return minutes as hours and minutes."""
    return "" if minutes is None else f"{minutes // 60}\u00a0h\u00a0{minutes % 60:02d}"


@register.filter
def minutes_seconds(seconds: float) -> str:
    """Return seconds as ``m:ss``."""
    whole, rest = divmod(round(seconds), 60)
    return f"{whole}:{rest:02d}"


@register.filter
def feet(length_m: float) -> str:
    """Return a length in feet and inches, rounded up."""
    whole, inches = feet_inches_up(length_m)
    return f"{whole} ft {inches} in"


@register.filter
def in_pounds(mass_kg: float) -> str:
    """Return a mass in pounds."""
    return f"{pounds(mass_kg):,}"


@register.filter
def phrase(key: str, prefix: str) -> str:
    """Return the phrase ``prefix.key``."""
    return say(f"{prefix}.{key}")


@register.filter
def svg(text: str) -> SafeString:
    """Return a drawing of ours as it is; the drawing escapes every text in it."""
    return mark_safe(text)  # noqa: S308  # see above


@register.inclusion_tag("web/_tag.html")
def tag(vehicle: object, *, big: bool = False, away: bool = False, linked: bool = True) -> dict[str, Any]:
    """Show a vehicle (a row, its name, or None) as its key tag; one that is away hangs dashed."""
    name = getattr(vehicle, "name", vehicle) or ""
    return {"name": name, "big": big, "away": away, "linked": linked}


@register.inclusion_tag("web/_figure.html")
def figure(shown: Figure, *, large: bool = False) -> dict[str, Any]:
    """Show a figure; one tap opens why it is what it is."""
    return {"figure": shown, "because": shown.because, "large": large}


@register.simple_tag
def value_of(form: Typed, prefix: str, number_: Any = "", suffix: str = "") -> str:
    """Return what was typed into a field."""
    return form.values.get(f"{prefix}{number_}{suffix}", "")


@register.simple_tag
def field_of(form: Typed, name: str, label: str, **attributes: Any) -> SafeString:
    """Return an input with its label, its value and its slip, tied together for those who hear the page."""
    kind, unit = attributes.pop("kind", "text"), attributes.pop("unit", "")
    slip, slip_id = form.errors.get(name, ""), f"slip-{name}"
    attributes = {key.replace("_", "-"): value for key, value in attributes.items()}
    attributes |= {"id": f"f-{name}", "name": name, "type": kind, "value": form.values.get(name, "")}
    if slip:
        attributes |= {"aria-invalid": "true", "aria-describedby": slip_id}
    return format_html(
        '<span class="field"><label for="f-{}">{}</label><span class="with-unit"><input{}>{}</span>{}</span>',
        name,
        label,
        flatatt(attributes),
        format_html('<span class="unit">{}</span>', unit) if unit else "",
        format_html('<span class="slip" id="{}">{}</span>', slip_id, slip) if slip else "",
    )


@register.filter
def person(n: int) -> str:
    """Return how a row of the party is called while it has no name."""
    return f"Person {n + 1}"


@register.simple_tag
def value_or(form: Typed, prefix: str, number_: Any, suffix: str, otherwise: str) -> str:
    """Return what was typed into a field, or something else when nothing was."""
    return form.values.get(f"{prefix}{number_}{suffix}", "") or otherwise


_ROW_OF = {"p": "Person", "b": "Bike", "d": "Driver"}


def _marks(form: Typed, name: str) -> tuple[dict[str, Any], SafeString | str]:
    """Return the attributes and the sentence of a field that has a slip."""
    slip = form.errors.get(name, "")
    if not slip:
        return {}, ""
    marks = {"aria-invalid": "true", "aria-describedby": f"slip-{name}"}
    return marks, format_html('<span class="slip" id="slip-{}">{}</span>', name, slip)


@register.simple_tag
def cell_of(form: Typed, prefix: str, n: int, suffix: str, what: str, **attributes: Any) -> SafeString:
    """Return an input of a row, named for those who hear the page, with its slip."""
    name = f"{prefix}{n}{suffix}"
    marks, slip = _marks(form, name)
    named = {"id": f"f-{name}", "name": name, "aria-label": f"{_ROW_OF[prefix]} {n + 1}, {what}"}
    return format_html(
        "<input{}>{}", flatatt({**named, "value": form.values.get(name, ""), **attributes, **marks}), slip
    )


@register.simple_tag
def pick_of(form: Typed, prefix: str, n: int, suffix: str, what: str, choices: Iterable[tuple[str, str]]) -> SafeString:
    """Return a list to choose from in a row; the empty choice leaves it open."""
    name = f"{prefix}{n}{suffix}"
    now = form.values.get(name, "")
    marks, slip = _marks(form, name)
    named = {"id": f"f-{name}", "name": name, "aria-label": f"{_ROW_OF[prefix]} {n + 1}, {what}", **marks}
    lines = (
        (value, mark_safe(" selected") if value == now else "", words)  # a constant
        for value, words in (("", "open"), *choices)
    )
    options = format_html_join("", '<option value="{}"{}>{}</option>', lines)
    return format_html("<select{}>{}</select>{}", flatatt(named), options, slip)


@register.simple_tag
def chosen(form: Typed, name: str, value: Any, number_: Any = "", suffix: str = "") -> str:
    """Return ``selected`` when this value was chosen."""
    return "selected" if form.values.get(f"{name}{number_}{suffix}", "") == str(value) else ""


@register.simple_tag
def ticked(form: Typed, name: str, value: Any, number_: Any = "", suffix: str = "") -> str:
    """Return ``checked`` when this value is among the ticked ones."""
    return "checked" if str(value) in form.multi.get(f"{name}{number_}{suffix}", []) else ""
