"""What the demo's students need to train again: raised by their own sets, one asked for and half counted."""

from datetime import datetime, timedelta

from assessments.management.demo import story
from assessments.management.demo.academy import School
from assessments.services.needs import WantedNeed, raise_need, record_drill_count, refresh_academy_needs
from courses.models import Drill, Skill

ASKED_BEFORE = timedelta(days=2)


def tell_needs(school: School, now: datetime) -> None:
    """Time has passed since the last sets: what it raises is raised as in any night."""
    told, educator = story.school()["needs"], school.educators[0]
    asked, counted = told["asked"], told["counted"]
    student = school.students[asked["email"]]
    wanted = WantedNeed(
        skill=Skill.objects.get(code=asked["skill"]),
        reason=asked["reason"],
        due_on=student.academy.date_of(now + timedelta(days=asked["in_days"])),
        drill=Drill.objects.get(code=asked["drill"]),
    )
    need = raise_need(student=student, wanted=wanted, actor=educator, now=now - ASKED_BEFORE)
    record_drill_count(
        need=need,
        done=counted["done"],
        clean_count=counted["clean"],
        note=counted["note"],
        actor=educator,
        now=now - timedelta(hours=20),
    )
    refresh_academy_needs(academy=school.owner.academy, now=now)
