"""Build sheets and vehicles: the document people wrote, beside the few columns that are searched."""

from __future__ import annotations

from django.db import models

from keyhook_desk.web.document import DocumentRow


class SheetRow(DocumentRow):
    """One build sheet; ``document`` is the record of :class:`keyhook.vehicle.build_sheet.BuildSheet`."""

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class VehicleRow(DocumentRow):
    """One vehicle; ``document`` is the record of :class:`keyhook.vehicle.build_sheet.Vehicle`."""

    sheet = models.ForeignKey(SheetRow, on_delete=models.PROTECT, related_name="vehicles")
    plate = models.CharField(max_length=40)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
