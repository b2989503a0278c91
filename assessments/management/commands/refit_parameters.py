from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from academy.models import Academy
from assessments.services.parameters import refit_parameters
from assessments.tasks import REFIT_SEED


class Command(BaseCommand):
    help = "Fit severities, difficulties and scales of the skill model to the marks, as is done every night."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--academy", type=int, help="key of one academy; without it, all of them")

    def handle(self, *args: Any, academy: int | None, **options: Any) -> None:
        chosen = Academy.objects.order_by("pk")
        if academy is not None:
            chosen = chosen.filter(pk=academy)
            if not chosen:
                known = ", ".join(
                    str(pk) for pk in Academy.objects.order_by("pk").values_list("pk", flat=True)
                )
                raise CommandError(f"There is no academy {academy}. Those here: {known or 'none'}.")
        for each in chosen:
            self._refit(each)

    def _refit(self, academy: Academy) -> None:
        version = refit_parameters(academy=academy, seed=REFIT_SEED, now=timezone.now())
        if version is None:
            self.stdout.write(f"{academy.name}: no graded sets yet.")
            return
        self.stdout.write(
            f"{academy.name}: parameters {version.number}, from {version.sets} sets of "
            f"{version.students} students."
        )
        for note in version.parameters["notes"]:
            self.stdout.write(f"  {note}")
