"""The slice of people's own lists."""

from django.apps import AppConfig


class MyWorkConfig(AppConfig):
    """People's own lists."""

    name = "keyhook_desk.mywork"
    label = "mywork"
    default_auto_field = "django.db.models.BigAutoField"
