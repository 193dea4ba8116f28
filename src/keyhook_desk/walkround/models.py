"""The tour as the desk wants it, what was shown on the walk, and the record of hand-overs."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models

from keyhook.errors import BadInput
from keyhook_desk.hires.models import HireRow
from keyhook_desk.web.fields import WrittenField


class TourWish(models.Model):
    """What the desk said about the tour of one hire: minutes, first time, slow party, what their pack confirmed."""

    hire = models.OneToOneField(HireRow, on_delete=models.CASCADE, related_name="tour_wish")
    available_min = models.FloatField(null=True, blank=True)
    first_time = models.BooleanField(default=False)
    slow = models.BooleanField(default=False)
    confirmed = WrittenField(default=list)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(available_min__isnull=True) | models.Q(available_min__gt=0),
                name="tour_minutes_above_nought",
            )
        ]

    def __str__(self) -> str:
        return f"{self.hire_id} {self.available_min or 'usual'} min"


class Kind(models.TextChoices):
    """What happened to a point of the tour; ``open`` takes back what was ticked by mistake."""

    STARTED = "started", "The tour began"
    TOLD = "told", "Shown"
    HIRER_DID = "hirer_did", "Hirer did it"
    SKIPPED = "skipped", "Passed over"
    NOTE = "note", "Note"
    OPEN = "open", "Taken back"


class AppendOnly(models.Model):
    """A row that is written once and never changed."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write a new row; one that is there already is refused."""
        if self.pk is not None:
            raise BadInput("This is written down and stays as it is", seen=str(self), todo="Write a new line instead")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        """Refuse."""
        _ = args, kwargs
        raise BadInput("This is written down and stays", seen=str(self), todo="Write a new line instead")


class WalkTick(AppendOnly):
    """One thing that happened on a walk, told by one tablet; the same ``uid`` is written once.

    ``at`` is the tablet's own time, ``received_at`` that of the desk.
    """

    uid = models.UUIDField(unique=True)
    hire = models.ForeignKey(HireRow, on_delete=models.PROTECT, related_name="walk_ticks")
    point = models.CharField(max_length=60, blank=True)
    kind = models.CharField(max_length=10, choices=Kind)
    note = models.CharField(max_length=500, blank=True)
    at = models.DateTimeField()
    received_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "id"]
        indexes = [models.Index(fields=["hire", "at"])]

    def __str__(self) -> str:
        return f"{self.hire_id} {self.kind} {self.point}"


class HandOverRecord(AppendOnly):
    """One hand-over in the ledger: hashed over its canonical form and the hash of the entry before.

    ``entry`` is what the hash is taken of; of name and signature it holds only a salted digest, so that the person can
    be dropped one day (``personal`` becomes null) and the chain still holds.
    """

    number = models.PositiveIntegerField(unique=True)
    uid = models.UUIDField(unique=True)
    hire = models.ForeignKey(HireRow, on_delete=models.PROTECT, related_name="hand_overs")
    entry = WrittenField()
    personal = WrittenField(null=True)
    before_hash = models.CharField(max_length=64, blank=True)
    entry_hash = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["number"]

    def __str__(self) -> str:
        return f"hand-over {self.number} {self.hire_id}"
