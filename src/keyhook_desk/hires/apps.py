"""The hires slice."""

from django.apps import AppConfig


class HiresConfig(AppConfig):
    """The hires slice of the desk."""

    name = "keyhook_desk.hires"
    label = "hires"
    default_auto_field = "django.db.models.BigAutoField"
