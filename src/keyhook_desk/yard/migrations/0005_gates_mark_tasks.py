"""A gate ticked on the page of a hire marks the task that proves it, and takes that mark back."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("yard", "0004_ticks_so_far")]

    operations = [
        migrations.AddField(
            model_name="workmark",
            name="from_gate",
            field=models.BooleanField(default=False),
        ),
        migrations.AlterField(
            model_name="workmark",
            name="kind",
            field=models.CharField(
                choices=[
                    ("started", "started"),
                    ("done", "done"),
                    ("problem", "problem"),
                    ("reopened", "open again"),
                ],
                max_length=8,
            ),
        ),
    ]
