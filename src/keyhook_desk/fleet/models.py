"""Build sheets and vehicles: the document people wrote, beside the few columns that are searched."""

from __future__ import annotations

from django.db import models


class SheetRow(models.Model):
    """One build sheet; ``document`` is the record of :class:`keyhook.vehicle.build_sheet.BuildSheet`."""

    name = models.CharField(max_length=60, unique=True)
    document = models.JSONField()
    version = models.PositiveIntegerField(default=1)
    imported_hash = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class VehicleRow(models.Model):
    """One vehicle; ``document`` is the record of :class:`keyhook.vehicle.build_sheet.Vehicle`."""

    name = models.CharField(max_length=60, unique=True)
    sheet = models.ForeignKey(SheetRow, on_delete=models.PROTECT, related_name="vehicles")
    plate = models.CharField(max_length=40)
    document = models.JSONField()
    version = models.PositiveIntegerField(default=1)
    imported_hash = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
