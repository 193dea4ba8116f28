"""The fleet slice."""

from django.apps import AppConfig


class FleetConfig(AppConfig):
    """The fleet slice of the desk."""

    name = "keyhook_desk.fleet"
    label = "fleet"
    default_auto_field = "django.db.models.BigAutoField"
