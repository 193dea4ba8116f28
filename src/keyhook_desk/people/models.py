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
