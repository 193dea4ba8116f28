"""A tick belongs to the vehicle in which the gate was proved."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0001_initial"),
        ("hires", "0001_initial"),
        ("yard", "0002_day_plan"),
    ]

    operations = [
        migrations.AddField(
            model_name="gatetick",
            name="vehicle",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="fleet.vehiclerow"
            ),
        ),
        migrations.RemoveConstraint(model_name="gatetick", name="one_tick_a_gate"),
        migrations.AddConstraint(
            model_name="gatetick",
            constraint=models.UniqueConstraint(fields=("hire", "task", "vehicle"), name="one_tick_a_gate_and_vehicle"),
        ),
    ]
