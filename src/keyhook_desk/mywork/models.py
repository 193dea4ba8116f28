"""Photos of problems, by the hash of their content; a mark names the hash."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class WorkPhoto(models.Model):
    """One photo taken in the yard, freed of where and by whom it was taken; never changed."""

    digest = models.CharField(max_length=64, unique=True)
    kind = models.CharField(max_length=20)
    content = models.BinaryField()
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return self.digest[:12]
