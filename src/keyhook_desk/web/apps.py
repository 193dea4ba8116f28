"""The web slice."""

from django.apps import AppConfig


class WebConfig(AppConfig):
    """The web slice of the desk."""

    name = "keyhook_desk.web"
    label = "web"
    default_auto_field = "django.db.models.BigAutoField"
