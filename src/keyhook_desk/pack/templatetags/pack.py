"""Words of the pack in the hirer's language."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from keyhook.phrases import phrase_book, say

register = template.Library()


@register.simple_tag(takes_context=True)
def words(context: dict[str, Any], key: str, **values: Any) -> SafeString | str:
    """Return a phrase in the language of the page; one that only English has is marked as English."""
    language = context["language"]
    if language == "en" or key in phrase_book(language):
        return say(key, values, language)
    return format_html('<span lang="en">{}</span>', say(key, values))


@register.simple_tag(takes_context=True)
def plain_words(context: dict[str, Any], key: str, **values: Any) -> str:
    """Return a phrase for an attribute, where no element may stand."""
    return say(key, values, context["language"])


@register.simple_tag
def lang_of(shown: str, page: str) -> SafeString | str:
    """Return the attribute that says in which language something is, when it is not that of the page."""
    return "" if shown == page else format_html(' lang="{}"', shown)


@register.filter
def dialled(phone: str) -> str:
    """Return a telephone number as a phone dials it."""
    return "".join(sign for sign in phone if sign.isdecimal() or sign == "+")
