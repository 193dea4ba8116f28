"""What the desk has counted of teach points stands beside the record of the depot."""

from django.db import migrations

import keyhook_desk.web.fields


class Migration(migrations.Migration):
    dependencies = [("yard", "0005_gates_mark_tasks")]

    operations = [
        migrations.AddField("depotrow", "counted", keyhook_desk.web.fields.WrittenField(default=dict)),
    ]
