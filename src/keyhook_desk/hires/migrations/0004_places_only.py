"""What is kept to take vehicles back: where things were, no longer what they were."""

from typing import Any

from django.db import migrations


def places_only(apps: Any, schema_editor: Any) -> None:
    """Leave of each load the store it was in; loads that do not stand one for one in the hire any more leave nothing."""
    _ = schema_editor
    hires = apps.get_model("hires", "HireRow").objects
    for given in apps.get_model("hires", "VehiclesGiven").objects.all():
        for move in given.moves:
            loads = move.pop("loads", None)
            if loads is not None:
                move["stores"] = [load["store"] for load in loads]
                hire = hires.filter(name=move["hire"]).first()
                if hire is None or len(hire.document.get("loads", ())) != len(loads):
                    given.taken_back = True  # it could not be put back
        given.save(update_fields=["moves", "taken_back"])


class Migration(migrations.Migration):
    dependencies = [("hires", "0003_vehicles_given")]

    operations = [migrations.RunPython(places_only, migrations.RunPython.noop)]
