"""The web slice."""

from django.apps import AppConfig


class WebConfig(AppConfig):
    """The web slice of the desk."""

    name = "keyhook_desk.web"
    label = "web"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Register the system checks once every slice is loaded."""
        from keyhook_desk.web import checks  # noqa: F401, PLC0415  # needs the models of all slices
