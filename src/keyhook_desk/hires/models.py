"""Hires: the record people wrote, beside the columns that are searched and guarded."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.web.document import DocumentRow
from keyhook_desk.web.fields import WrittenField


class Status(models.TextChoices):
    """Where a hire stands."""

    ENQUIRY = "enquiry", "Enquiry"
    BOOKED = "booked", "Booked"
    OUT = "out", "Out"
    RETURNED = "returned", "Returned"
    CLOSED = "closed", "Closed"
    CANCELLED = "cancelled", "Cancelled"


#: Hires of these states hold their vehicle; the database lets no two of them overlap.
HOLDING = (Status.BOOKED, Status.OUT, Status.RETURNED, Status.CLOSED)


class HireRow(DocumentRow):
    """One hire; ``document`` is the record of :class:`keyhook.hire.hire.Hire`, ``news`` what the return brought."""

    lead = models.CharField(max_length=200)
    search = models.CharField(max_length=500)
    vehicle = models.ForeignKey(VehicleRow, null=True, blank=True, on_delete=models.PROTECT, related_name="hires")
    status = models.CharField(max_length=12, choices=Status)
    collect_at = models.DateTimeField()
    return_at = models.DateTimeField()
    news = WrittenField(default=dict)

    class Meta:
        ordering = ["collect_at", "name"]
        constraints = [
            models.CheckConstraint(condition=Q(return_at__gt=F("collect_at")), name="hire_ends_after_it_begins")
        ]
        indexes = [
            models.Index(fields=["collect_at"]),
            models.Index(fields=["return_at"]),
            models.Index(fields=["status", "collect_at"]),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.lead}"


class VehiclesGiven(models.Model):
    """Vehicles that hires were given in one go, and what has to be put back when that is taken back.

    ``moves`` holds, for each hire, its version since, its vehicle before and after, and where its people and things
    were: names of seats, berths and stores, nothing of what is in them.
    """

    day = models.DateField()
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    moves = WrittenField()
    taken_back = models.BooleanField(default=False)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["day"])]

    def __str__(self) -> str:
        return f"{self.day} {', '.join(move['hire'] for move in self.moves)}"
