from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('academy', '0001_people_and_audit'),
        ('assessments', '0001_rubrics_sets_and_marks'),
        ('courses', '0001_catalogue_heads_and_briefs'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='mark',
            name='mark_faults_within_inspected',
        ),
        migrations.RemoveConstraint(
            model_name='practiceset',
            name='practice_set_finished_has_clock',
        ),
        migrations.AddConstraint(
            model_name='mark',
            constraint=models.CheckConstraint(condition=models.Q(('faults__isnull', True), models.Q(('faults__lte', models.F('inspected')), ('inspected__isnull', False)), _connector='OR'), name='mark_faults_within_inspected'),
        ),
        migrations.AddConstraint(
            model_name='practiceset',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state__in', ('finished', 'inspected', 'graded')), _negated=True), models.Q(('finished_at__isnull', False), ('worked_s__isnull', False), ('finished_at__gte', models.F('started_at')), ('worked_s__gte', 0)), _connector='OR'), name='practice_set_finished_has_clock'),
        ),
    ]
