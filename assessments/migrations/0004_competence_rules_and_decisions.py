
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('academy', '0001_people_and_audit'),
        ('assessments', '0003_positions_say_lengths_and_pairs'),
        ('courses', '0005_academies_set_their_map_guide'),
    ]

    operations = [
        migrations.CreateModel(
            name='CompetenceRule',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField()),
                ('programme', models.JSONField()),
                ('made_at', models.DateTimeField()),
                ('academy', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='competence_rules', to='academy.academy')),
                ('made_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='academy.membership')),
                ('skill', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='courses.skill')),
            ],
            options={
                'verbose_name': 'competence rule',
                'ordering': ['-number'],
            },
        ),
        migrations.CreateModel(
            name='CompetenceDecision',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('declared', 'declared competent'), ('review', 'sent to review'), ('withdrawn', 'withdrawn')], max_length=9)),
                ('words', models.TextField()),
                ('attained', models.FloatField(null=True)),
                ('at', models.DateTimeField()),
                ('practice_set', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='assessments.practiceset')),
                ('skill', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='courses.skill')),
                ('student', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='competence_decisions', to='academy.membership')),
                ('withdraws', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='withdrawal', to='assessments.competencedecision')),
                ('rule', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='decisions', to='assessments.competencerule')),
            ],
            options={
                'verbose_name': 'competence decision',
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='CompetenceStanding',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('status', models.CharField(choices=[('collecting', 'collecting sets'), ('competent', 'competent'), ('not_yet', 'not yet'), ('review', 'in review')], max_length=10)),
                ('words', models.TextField()),
                ('sets', models.PositiveIntegerField()),
                ('sets_left', models.PositiveIntegerField(null=True)),
                ('at', models.DateTimeField()),
                ('rule', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='assessments.competencerule')),
                ('skill', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='courses.skill')),
                ('student', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='competence', to='academy.membership')),
            ],
        ),
        migrations.CreateModel(
            name='MasteryRule',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField()),
                ('conditions', models.JSONField(default=dict)),
                ('made_at', models.DateTimeField()),
                ('academy', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='mastery_rules', to='academy.academy')),
                ('made_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='academy.membership')),
            ],
            options={
                'verbose_name': 'mastery rule',
                'ordering': ['-number'],
            },
        ),
        migrations.AddConstraint(
            model_name='competencerule',
            constraint=models.UniqueConstraint(fields=('academy', 'skill', 'number'), name='competence_rule_number_once'),
        ),
        migrations.AddIndex(
            model_name='competencedecision',
            index=models.Index(fields=['student', 'id'], name='competence_by_student'),
        ),
        migrations.AddConstraint(
            model_name='competencedecision',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['declared', 'review', 'withdrawn'])), name='competence_decision_kind'),
        ),
        migrations.AddConstraint(
            model_name='competencedecision',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'withdrawn'), ('withdraws__isnull', False)), models.Q(models.Q(('kind', 'withdrawn'), _negated=True), ('withdraws__isnull', True)), _connector='OR'), name='competence_withdrawal_names_it'),
        ),
        migrations.AddConstraint(
            model_name='competencestanding',
            constraint=models.UniqueConstraint(fields=('student', 'skill'), name='competence_once_per_skill'),
        ),
        migrations.AddConstraint(
            model_name='competencestanding',
            constraint=models.CheckConstraint(condition=models.Q(('status__in', ['collecting', 'competent', 'not_yet', 'review'])), name='competence_known_status'),
        ),
        migrations.AddConstraint(
            model_name='masteryrule',
            constraint=models.UniqueConstraint(fields=('academy', 'number'), name='mastery_rule_number_once'),
        ),
    ]
