"""The people slice."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    """The people slice of the desk."""

    name = "keyhook_desk.people"
    label = "people"
    default_auto_field = "django.db.models.BigAutoField"
