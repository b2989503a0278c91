from django.db import migrations, models


class Migration(migrations.Migration):
    """Maps of versions written so far are filled in by the next migration."""

    dependencies = [("courses", "0001_catalogue_heads_and_briefs")]

    operations = [
        migrations.AddField(
            model_name="briefversion",
            name="map",
            field=models.JSONField(default=dict),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="briefversion",
            name="fan_kinds",
            field=models.CharField(default="", max_length=400),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="briefversion",
            name="silenced",
            field=models.JSONField(blank=True, default=dict),
        ),
        migrations.AddField(
            model_name="briefversion",
            name="difficulty",
            field=models.CharField(
                blank=True,
                choices=[
                    ("beginner", "For beginners"),
                    ("practised", "For practised hands"),
                    ("advanced", "Advanced"),
                ],
                default="",
                max_length=9,
            ),
            preserve_default=False,
        ),
    ]
