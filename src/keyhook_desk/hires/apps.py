"""The hires slice."""

from django.apps import AppConfig


class HiresConfig(AppConfig):
    """The hires slice of the desk."""

    name = "keyhook_desk.hires"
    label = "hires"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Register the system checks."""
        from keyhook_desk.hires import checks  # noqa: F401, PLC0415  # needs the models
