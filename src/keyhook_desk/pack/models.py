"""Links to packs, what hirers have read, the depot's own photos of fittings, languages a native speaker has read."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from keyhook.phrases import LANGUAGES
from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires.models import HireRow


class PackLink(models.Model):
    """The one link of a hire. A renewed link has the next version, and those before it open nothing any more."""

    hire = models.OneToOneField(HireRow, on_delete=models.CASCADE, related_name="pack_link")
    version = models.PositiveIntegerField(default=1)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    looks = models.PositiveIntegerField(default=0)
    last_look_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(version__gte=1), name="pack_link_version_from_one")]

    def __str__(self) -> str:
        return f"{self.hire_id} version {self.version}"


class PackConfirmation(models.Model):
    """A teach point that the hirer says they have read; ``at`` is the moment on their phone."""

    hire = models.ForeignKey(HireRow, on_delete=models.CASCADE, related_name="pack_confirmations")
    point = models.CharField(max_length=60)
    at = models.DateTimeField()
    received_at = models.DateTimeField()

    class Meta:
        ordering = ["received_at", "id"]
        constraints = [models.UniqueConstraint(fields=["hire", "point"], name="a_point_is_confirmed_once")]

    def __str__(self) -> str:
        return f"{self.hire_id} {self.point}"


class FittingPhoto(models.Model):
    """The depot's own photo of one fitting of one vehicle, by the hash of its content."""

    vehicle = models.ForeignKey(VehicleRow, on_delete=models.CASCADE, related_name="fitting_photos")
    fitting = models.CharField(max_length=60)
    digest = models.CharField(max_length=64)
    kind = models.CharField(max_length=20)
    content = models.BinaryField()
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["fitting", "added_at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["vehicle", "fitting", "digest"], name="a_photo_stands_once_at_a_fitting")
        ]

    def __str__(self) -> str:
        return f"{self.vehicle_id} {self.fitting} {self.digest[:8]}"


class LanguageTick(models.Model):
    """A language of the pack that a native speaker has read for this depot."""

    language = models.CharField(max_length=5, unique=True, choices=[(k, v) for k, v in LANGUAGES.items() if k != "en"])
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return self.language
