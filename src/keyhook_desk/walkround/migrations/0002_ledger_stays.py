"""The database refuses to change or take out an entry of the hand-over ledger."""

from django.db import migrations

from keyhook_desk.walkround.guard import put_up, take_down


class Migration(migrations.Migration):
    """Put up the guard."""

    dependencies = [("walkround", "0001_initial")]
    operations = [migrations.RunPython(put_up, take_down)]
