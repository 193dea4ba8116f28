"""The walk-round slice."""

from django.apps import AppConfig


class WalkroundConfig(AppConfig):
    """The walk-round slice of the desk."""

    name = "keyhook_desk.walkround"
    label = "walkround"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Register the system checks, and tell packs what falls off a tour."""
        from keyhook_desk.walkround import checks, fallen  # noqa: F401, PLC0415  # need the models
