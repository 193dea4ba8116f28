"""Ticks made before they knew a vehicle are of the one the hire has."""

from typing import Any

from django.db import migrations
from django.db.models import OuterRef, Subquery


def of_the_vehicle_they_have(apps: Any, schema_editor: Any) -> None:
    """Write the vehicle of the hire into every tick that names none."""
    _ = schema_editor
    hires = apps.get_model("hires", "HireRow").objects.filter(pk=OuterRef("hire_id"))
    ticks = apps.get_model("yard", "GateTick").objects.filter(vehicle=None)
    ticks.update(vehicle_id=Subquery(hires.values("vehicle_id")[:1]))


class Migration(migrations.Migration):
    dependencies = [("yard", "0003_gates_of_a_vehicle")]

    operations = [migrations.RunPython(of_the_vehicle_they_have, migrations.RunPython.noop)]
