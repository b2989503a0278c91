import django.core.validators
import django.db.models.deletion
import uuid
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('academy', '0001_people_and_audit'),
        ('assessments', '0005_academies_get_default_competence_rules'),
    ]

    operations = [
        migrations.CreateModel(
            name='AgreementReport',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('until', models.DateTimeField()),
                ('second_marks', models.PositiveIntegerField()),
                ('newest_at', models.DateTimeField(null=True)),
                ('findings', models.JSONField()),
                ('computed_at', models.DateTimeField()),
                ('academy', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='agreement_reports', to='academy.academy')),
            ],
            options={
                'verbose_name': 'agreement report',
                'ordering': ['-id'],
            },
        ),
        migrations.CreateModel(
            name='SecondMark',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('state', models.CharField(choices=[('open', 'waiting'), ('done', 'signed'), ('waived', 'waived')], default='open', max_length=6)),
                ('reason', models.CharField(blank=True, max_length=500)),
                ('chosen_at', models.DateTimeField()),
                ('closed_at', models.DateTimeField(null=True)),
                ('draft', models.JSONField(default=dict)),
                ('draft_saved_at', models.DateTimeField(null=True)),
                ('assigned_to', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='second_marks', to='academy.membership')),
                ('inspection', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='second_mark', to='assessments.inspection')),
                ('practice_set', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='second_mark', to='assessments.practiceset')),
            ],
            options={
                'ordering': ['chosen_at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='SecondGrade',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('entry', models.JSONField(default=dict)),
                ('note', models.TextField(blank=True, max_length=2000)),
                ('signed_at', models.DateTimeField()),
                ('signed_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='academy.membership')),
                ('second_mark', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='grade', to='assessments.secondmark')),
            ],
            options={
                'verbose_name': 'signed second mark',
            },
        ),
        migrations.CreateModel(
            name='SecondMarkEvent',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(unique=True)),
                ('kind', models.CharField(max_length=10)),
                ('received_at', models.DateTimeField()),
                ('data', models.JSONField(default=dict)),
                ('second_mark', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='events', to='assessments.secondmark')),
            ],
            options={
                'verbose_name': 'event of a second mark',
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='SecondMarkRate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('one_in', models.PositiveSmallIntegerField(validators=[django.core.validators.MaxValueValidator(100)])),
                ('seed', models.CharField(max_length=64)),
                ('changed_at', models.DateTimeField()),
                ('academy', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='second_mark_rate', to='academy.academy')),
            ],
        ),
        migrations.CreateModel(
            name='StandardMark',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('signed_at', models.DateTimeField()),
                ('educator', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='academy.membership')),
            ],
            options={
                'verbose_name': 'mark of a standard set',
                'ordering': ['signed_at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='StandardLevel',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('level', models.PositiveSmallIntegerField()),
                ('criterion', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='assessments.criterion')),
                ('mark', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='levels', to='assessments.standardmark')),
            ],
            options={
                'verbose_name': 'level on a standard set',
            },
        ),
        migrations.CreateModel(
            name='StandardSet',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('why', models.CharField(blank=True, max_length=300)),
                ('chosen_at', models.DateTimeField()),
                ('closed_at', models.DateTimeField(null=True)),
                ('academy', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='standard_sets', to='academy.academy')),
                ('chosen_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='academy.membership')),
                ('grade', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='assessments.grade')),
            ],
            options={
                'ordering': ['-chosen_at', '-pk'],
            },
        ),
        migrations.AddField(
            model_name='standardmark',
            name='standard_set',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='marks', to='assessments.standardset'),
        ),
        migrations.CreateModel(
            name='DiscussionNote',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('text', models.TextField(max_length=2000)),
                ('at', models.DateTimeField()),
                ('author', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='academy.membership')),
                ('second_mark', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='notes', to='assessments.secondmark')),
                ('standard_set', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='notes', to='assessments.standardset')),
            ],
            options={
                'verbose_name': 'note of a discussion',
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='SecondLevel',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('level', models.PositiveSmallIntegerField()),
                ('proposed', models.PositiveSmallIntegerField(null=True)),
                ('override_reason', models.CharField(blank=True, max_length=500)),
                ('words', models.CharField(max_length=500)),
                ('criterion', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='assessments.criterion')),
                ('grade', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='levels', to='assessments.secondgrade')),
            ],
            options={
                'verbose_name': 'level of a second mark',
                'constraints': [models.UniqueConstraint(fields=('grade', 'criterion'), name='second_level_once_per_criterion'), models.CheckConstraint(condition=models.Q(('level__range', (0, 4))), name='second_level_range')],
            },
        ),
        migrations.AddIndex(
            model_name='secondmark',
            index=models.Index(fields=['assigned_to', 'state'], name='second_mark_by_educator'),
        ),
        migrations.AddConstraint(
            model_name='secondmark',
            constraint=models.CheckConstraint(condition=models.Q(('state__in', ['open', 'done', 'waived'])), name='second_mark_known_state'),
        ),
        migrations.AddConstraint(
            model_name='secondmark',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state', 'waived'), models.Q(('reason', ''), _negated=True)), models.Q(models.Q(('state', 'waived'), _negated=True), ('reason', '')), _connector='OR'), name='second_mark_waived_has_reason'),
        ),
        migrations.AddConstraint(
            model_name='secondmark',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('closed_at__isnull', True), ('state', 'open')), models.Q(models.Q(('state', 'open'), _negated=True), ('closed_at__isnull', False)), _connector='OR'), name='second_mark_closed_has_instant'),
        ),
        migrations.AddConstraint(
            model_name='secondmarkevent',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['position', 'inspect', 'grade'])), name='second_mark_event_known_kind'),
        ),
        migrations.AddConstraint(
            model_name='secondmarkrate',
            constraint=models.CheckConstraint(condition=models.Q(('one_in__lte', 100)), name='second_mark_rate_range'),
        ),
        migrations.AddConstraint(
            model_name='secondmarkrate',
            constraint=models.CheckConstraint(condition=models.Q(('seed', ''), _negated=True), name='second_mark_rate_has_secret'),
        ),
        migrations.AddConstraint(
            model_name='standardlevel',
            constraint=models.UniqueConstraint(fields=('mark', 'criterion'), name='standard_level_once_per_criterion'),
        ),
        migrations.AddConstraint(
            model_name='standardlevel',
            constraint=models.CheckConstraint(condition=models.Q(('level__range', (0, 4))), name='standard_level_range'),
        ),
        migrations.AddConstraint(
            model_name='standardset',
            constraint=models.UniqueConstraint(fields=('grade',), name='standard_set_once_per_grade'),
        ),
        migrations.AddConstraint(
            model_name='standardmark',
            constraint=models.UniqueConstraint(fields=('standard_set', 'educator'), name='standard_mark_once_each'),
        ),
        migrations.AddConstraint(
            model_name='discussionnote',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('second_mark__isnull', False), ('standard_set__isnull', True)), models.Q(('second_mark__isnull', True), ('standard_set__isnull', False)), _connector='OR'), name='discussion_note_about_one_thing'),
        ),
        migrations.AddConstraint(
            model_name='discussionnote',
            constraint=models.CheckConstraint(condition=models.Q(('text', ''), _negated=True), name='discussion_note_says_something'),
        ),
    ]
