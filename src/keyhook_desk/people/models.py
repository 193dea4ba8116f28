"""People of the depot, each with one role."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.db import models


class Role(models.TextChoices):
    """What somebody does here; rights hang on it and on nothing else."""

    DESK = "desk", "Desk"
    YARD = "yard", "Yard"
    TECHNICIAN = "technician", "Technician"
    MANAGER = "manager", "Manager"


class User(AbstractUser):
    """Somebody who may log in."""

    role = models.CharField(max_length=12, choices=Role, default=Role.YARD)

    def __str__(self) -> str:
        return self.get_full_name() or self.username


class FailedLogin(models.Model):
    """A login that did not work; kept for a quarter of an hour, so that guessing is slow."""

    username = models.CharField(max_length=150)
    address = models.CharField(max_length=45)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["username", "address", "at"])]

    def __str__(self) -> str:
        return f"{self.username} from {self.address}"
