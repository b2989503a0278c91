from django.db import migrations
from django.utils import timezone

SHORT_COURSE = {
    "name": "Short course",
    "rule": {
        "kind": "learning_cusum",
        "acceptable_rate": 0.10,
        "inadequate_rate": 0.50,
        "threshold": 4.0,
        "horizon": 20,
    },
    "watch": {"acceptable_rate": 0.10, "inadequate_rate": 0.50, "threshold": 3.5, "horizon": 20},
}
MASTERY = {
    "sets": 3,
    "days": 3,
    "level": 3,
    "faults_allowed": 1,
    "inspected": 120,
    "blind_marks": 1,
}


def give_defaults(apps, schema_editor):
    """Academies that were open before there were rules; those that have one keep it."""
    Academy = apps.get_model("academy", "Academy")
    Skill = apps.get_model("courses", "Skill")
    CompetenceRule = apps.get_model("assessments", "CompetenceRule")
    MasteryRule = apps.get_model("assessments", "MasteryRule")
    skills = list(Skill.objects.filter(is_gate=True))
    for academy in Academy.objects.all():
        made_at = timezone.now()
        for skill in skills:
            CompetenceRule.objects.get_or_create(
                academy=academy,
                skill=skill,
                number=1,
                defaults={"programme": SHORT_COURSE, "made_at": made_at},
            )
        MasteryRule.objects.get_or_create(
            academy=academy, number=1, defaults={"conditions": MASTERY, "made_at": made_at}
        )


class Migration(migrations.Migration):

    dependencies = [
        ("assessments", "0004_competence_rules_and_decisions"),
    ]

    operations = [migrations.RunPython(give_defaults, migrations.RunPython.noop)]
