"""The papers slice."""

from django.apps import AppConfig


class PapersConfig(AppConfig):
    """The papers slice of the desk."""

    name = "keyhook_desk.papers"
    label = "papers"
