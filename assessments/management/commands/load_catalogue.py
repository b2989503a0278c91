from typing import Any

from django.core.management.base import BaseCommand

from courses.models import Drill, Fault, Skill
from courses.services.catalogue import load_catalogue


class Command(BaseCommand):
    help = "Bring skills, faults and drills up to the fixtures. Running it again changes nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        load_catalogue()
        counts = (Skill.objects.count(), Fault.objects.count(), Drill.objects.count())
        self.stdout.write("The catalogue has {} skills, {} faults and {} drills.".format(*counts))
