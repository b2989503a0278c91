from django.db import migrations


class Migration(migrations.Migration):

    dependencies = [("courses", "0003_maps_from_single_lengths")]

    operations = [migrations.DeleteModel(name="BriefCell")]
