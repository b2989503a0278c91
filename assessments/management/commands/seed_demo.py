import gc
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from academy.models import Academy, Role
from academy.selectors.people import people
from assessments.management.demo import story
from assessments.management.demo.academy import (
    School,
    give_passwords,
    invite_newcomer,
    open_neighbour,
    open_school,
)
from assessments.management.demo.bench import tell, telling_of
from assessments.management.demo.calendar import PlannedSet, planned_sets
from assessments.management.demo.gate import set_mastery, tell_gate
from assessments.management.demo.needs import tell_needs
from assessments.management.demo.programme import tell_programme
from assessments.management.demo.rota import tell_rota
from assessments.management.demo.standard import tell_standard_set
from assessments.models import PracticeSet
from assessments.services.agreement import compute_agreement
from assessments.services.competence import refresh_academy
from assessments.services.parameters import refit_parameters
from assessments.tasks import REFIT_SEED

SEED = 20_260_112


class Command(BaseCommand):
    help = "Fill the demo academy with a story of five months, or show who can sign in to it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--show-logins", action="store_true", help="only print who can sign in")

    def handle(self, *args: object, show_logins: bool, **options: object) -> None:
        if not settings.DEMO:
            raise CommandError(
                "The demo is only for a machine of its own. Set FANLIGHT_DEMO=1 to say this is one."
            )
        academy = demo_academy()
        if show_logins:
            self._show_logins(academy)
        elif academy:
            self.stdout.write(
                f"{academy.name} is already there. To start afresh: make clean, then make demo."
            )
        else:
            self.stdout.write("Telling five months at the demo academy; this takes a few seconds …")
            academy = seed(now=timezone.now())
            count = PracticeSet.objects.filter(academy=academy).count()
            self.stdout.write(f"{academy.name} in {academy.town} is open: {count} practice sets.")

    def _show_logins(self, academy: Academy | None) -> None:
        if academy is None:
            raise CommandError("The demo academy is not there yet. Run: manage.py seed_demo")
        self.stdout.write(f"{academy.name}. Everyone's password: {story.school()['password']}")
        for member in people(academy):
            self.stdout.write(f"  {Role(member.role).label:9} {member.user.email:36} {member.name}")


def demo_academy() -> Academy | None:
    """Told by its owner's address: an academy of the same name may be somebody's own."""
    email = story.school()["owner"]["email"]
    return Academy.objects.filter(memberships__role=Role.OWNER, memberships__user__email=email).first()


def seed(*, now: datetime) -> Academy:
    """Both academies with all their sets as of ``now``, all or nothing; then one open invitation."""
    with transaction.atomic(), _nothing_afterwards(), _no_garbage_sought():
        school = open_school(now)
        tell_programme(school, now)
        set_mastery(school, now - timedelta(days=story.school()["opened_days_ago"]))
        _tell_school(school, now)
        compute_agreement(academy=school.owner.academy, until=now, seed=SEED, now=now)
        neighbour = open_neighbour(now)
        _tell_neighbour(neighbour, now)
        give_passwords([school.owner.academy_id, neighbour.owner.academy_id])
        refit_parameters(academy=school.owner.academy, seed=REFIT_SEED, now=now)
        refresh_academy(academy=school.owner.academy, now=now)
        tell_needs(school, now)
        tell_gate(school, now)
        tell_rota(school, now)
    invite_newcomer(school, now)
    return school.owner.academy


def _tell_school(school: School, now: datetime) -> None:
    there = now.astimezone(ZoneInfo(school.owner.academy.time_zone))
    plans = planned_sets(story.pupils(), school.starts, there, Random(SEED))  # noqa: S311  # a story, not a secret
    told = story.school()["corrected"]
    corrects = (told["email"], told["nth"])
    tell(telling_of(school, story.words(), seed=SEED, now=now, corrects=corrects), plans)
    tell_standard_set(school, story.words()["standard"], now, Random(SEED))  # noqa: S311


def _tell_neighbour(school: School, now: datetime) -> None:
    (email,), (brief,) = school.students, school.briefs
    plan = PlannedSet(email, 0, brief, now - timedelta(days=6), level=2.0, skills={})
    tell(telling_of(school, story.words(), seed=SEED, now=now), [plan])


@contextmanager
def _nothing_afterwards() -> Iterator[None]:
    """Forget what should follow the commit: nobody waits today for a letter about a set of last spring."""
    connection = transaction.get_connection()
    before = list(connection.run_on_commit)
    yield
    connection.run_on_commit = before


@contextmanager
def _no_garbage_sought() -> Iterator[None]:
    """Hundreds of thousands of short-lived rows leave no cycles; looking for some takes a second."""
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
