"""The history of the desk: one line for each mutation, never changed."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class HistoryLine(models.Model):
    """Who did what to which record, when, and the hashes of the record before and after."""

    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    action = models.CharField(max_length=40)
    kind = models.CharField(max_length=20)
    name = models.CharField(max_length=80)
    said = models.CharField(max_length=300)
    before_hash = models.CharField(max_length=64, blank=True)
    after_hash = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["kind", "name", "-at"])]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.action} {self.kind} {self.name}"


class Once(models.Model):
    """A form that has been written down, with what it became, so that sending it twice writes once."""

    token = models.CharField(max_length=60, unique=True)
    name = models.CharField(max_length=60)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.token} became {self.name}"
