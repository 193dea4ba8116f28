"""The depot itself, its people as planned, and the gates ticked for a hire."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from keyhook_desk.hires.models import HireRow
from keyhook_desk.web.document import DocumentRow
from keyhook_desk.web.fields import WrittenField


class DepotRow(DocumentRow):
    """The one depot of this desk: its record and its tariff."""

    tariff = WrittenField()

    def __str__(self) -> str:
        return self.name


class StaffRow(DocumentRow):
    """One person of the plan (who may or may not log in)."""

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class GateTick(models.Model):
    """A gate task of the turnaround before a hire, done by somebody."""

    hire = models.ForeignKey(HireRow, on_delete=models.CASCADE, related_name="gates")
    task = models.CharField(max_length=60)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["hire", "task"], name="one_tick_a_gate")]

    def __str__(self) -> str:
        return f"{self.hire_id} {self.task}"
