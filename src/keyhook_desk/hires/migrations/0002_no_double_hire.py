"""The database refuses two hires of one vehicle at one time."""

from django.db import migrations

from keyhook_desk.hires.guard import put_up, take_down


class Migration(migrations.Migration):
    """Put up the guard."""

    dependencies = [("hires", "0001_initial")]
    operations = [migrations.RunPython(put_up, take_down)]
