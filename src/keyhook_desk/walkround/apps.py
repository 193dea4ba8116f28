"""The walk-round slice."""

from django.apps import AppConfig


class WalkroundConfig(AppConfig):
    """The walk-round slice of the desk."""

    name = "keyhook_desk.walkround"
    label = "walkround"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Register the system checks."""
        from keyhook_desk.walkround import checks  # noqa: F401, PLC0415  # needs the models
