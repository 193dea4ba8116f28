"""The yard slice."""

from django.apps import AppConfig


class YardConfig(AppConfig):
    """The yard slice of the desk."""

    name = "keyhook_desk.yard"
    label = "yard"
    default_auto_field = "django.db.models.BigAutoField"
