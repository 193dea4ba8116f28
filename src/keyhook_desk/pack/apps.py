"""The pack slice."""

from django.apps import AppConfig


class PackConfig(AppConfig):
    """The pack slice of the desk."""

    name = "keyhook_desk.pack"
    label = "pack"
    default_auto_field = "django.db.models.BigAutoField"
