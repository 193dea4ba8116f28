"""The depot itself, its people as planned, and the gates ticked for a hire."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from keyhook_desk.fleet.models import VehicleRow
from keyhook_desk.hires.models import HireRow
from keyhook_desk.web.document import DocumentRow
from keyhook_desk.web.fields import WrittenField


class DepotRow(DocumentRow):
    """The one depot of this desk: its record and its tariff.

    ``counted`` is what the desk has counted of teach points, by point; it comes before what the record says.
    """

    tariff = WrittenField()
    counted = WrittenField(default=dict)

    def __str__(self) -> str:
        return self.name


class StaffRow(DocumentRow):
    """One person of the plan (who may or may not log in)."""

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class GateTick(models.Model):
    """A gate task of the turnaround before a hire, done in one vehicle: it counts for that vehicle alone."""

    hire = models.ForeignKey(HireRow, on_delete=models.CASCADE, related_name="gates")
    task = models.CharField(max_length=60)
    vehicle = models.ForeignKey(VehicleRow, null=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["hire", "task", "vehicle"], name="one_tick_a_gate_and_vehicle")]

    def __str__(self) -> str:
        return f"{self.hire_id} {self.task}"


class HeldPlan(models.Model):
    """The plan of a day that people hold; ``document`` is day, plan, figures, pins and the news it rests on."""

    day = models.DateField(unique=True)
    version = models.PositiveIntegerField(default=1)
    undo_to = models.PositiveIntegerField(default=0)
    document = WrittenField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"{self.day} version {self.version}"


class Proposal(models.Model):
    """A plan that is being searched for or waits for an answer; also what each accepted version was."""

    class State(models.TextChoices):
        """How far the search is."""

        QUEUED = "queued", "waiting"
        RUNNING = "running", "searching"
        READY = "ready", "ready"
        FAILED = "failed", "stopped"

    class Answer(models.TextChoices):
        """What somebody said to it."""

        ACCEPTED = "accepted", "accepted"
        REFUSED = "refused", "refused"
        OVERTAKEN = "overtaken", "overtaken"

    day = models.DateField()
    based_on = models.PositiveIntegerField()
    reason = models.CharField(max_length=300)
    events = WrittenField(default=list)
    task = WrittenField(default=dict)
    document = WrittenField(null=True)
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    answer = models.CharField(max_length=10, choices=Answer, blank=True)
    best = models.IntegerField(null=True)
    bound = models.IntegerField(null=True)
    seconds = models.FloatField(default=0.0)
    beat_at = models.DateTimeField(null=True)
    said = models.CharField(max_length=500, blank=True)
    became = models.PositiveIntegerField(null=True)
    undo_to = models.PositiveIntegerField(default=0)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["day", "answer"])]
        constraints = [
            models.UniqueConstraint(fields=["day"], condition=models.Q(answer=""), name="one_open_proposal_a_day"),
            models.UniqueConstraint(fields=["day", "became"], name="one_proposal_a_version"),
        ]

    def __str__(self) -> str:
        return f"{self.day} {self.state} {self.answer}"


class WorkMark(models.Model):
    """What somebody said of a task, from a phone or the desk; never changed, and sent twice it is written once.

    ``from_gate`` are those written because a gate was ticked, or opened again, on the page of its hire.
    """

    class Kind(models.TextChoices):
        """What was said."""

        STARTED = "started", "started"
        DONE = "done", "done"
        PROBLEM = "problem", "problem"
        REOPENED = "reopened", "open again"

    uid = models.UUIDField(unique=True)
    day = models.DateField()
    task = models.CharField(max_length=120)
    kind = models.CharField(max_length=8, choices=Kind)
    person = models.CharField(max_length=60)
    at = models.DateTimeField()
    received_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=500, blank=True)
    photo = models.CharField(max_length=64, blank=True)
    from_gate = models.BooleanField(default=False)

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["day", "task"])]

    def __str__(self) -> str:
        return f"{self.day} {self.task} {self.kind}"

    @property
    def told_by(self) -> str:
        """Who wrote it down, when that was somebody else than the one it is about; otherwise nobody."""
        return str(self.by) if self.by is not None and self.by.get_username() != self.person else ""
