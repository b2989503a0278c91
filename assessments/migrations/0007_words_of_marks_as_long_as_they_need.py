from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("assessments", "0006_second_marks_and_agreement"),
    ]

    operations = [
        migrations.AlterField(
            model_name="mark",
            name="words",
            field=models.TextField(),
        ),
        migrations.AlterField(
            model_name="secondlevel",
            name="words",
            field=models.TextField(),
        ),
    ]
