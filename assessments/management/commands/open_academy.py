from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.validators import validate_email
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from academy.errors import DomainError
from academy.services.academies import AcademyDetails, open_academy
from assessments.services.competence import ensure_rules
from assessments.services.rubrics import install_starter_rubric
from assessments.services.signing_keys import make_signing_key
from courses.services.catalogue import load_catalogue
from courses.services.programmes import install_starter_programme
from courses.services.rota import install_starter_rota


class Command(BaseCommand):
    help = "Open an academy with catalogue, starter rubric, competence rules, a signing key and its owner."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--name", required=True, help="the academy's name")
        parser.add_argument("--town", default="", help="where it is")
        parser.add_argument("--time-zone", default="UTC", help="for example Europe/Lisbon")
        parser.add_argument("--owner-name", required=True)
        parser.add_argument("--owner-email", required=True)

    def handle(self, *args: Any, **options: Any) -> None:
        details = AcademyDetails(options["name"].strip(), options["town"].strip(), options["time_zone"])
        try:
            validate_email(options["owner_email"])
            self._open(details, options["owner_name"], options["owner_email"])
        except ValidationError as error:
            raise CommandError(f"{options['owner_email']} is not an e-mail address. Correct it.") from error
        except DomainError as error:
            raise CommandError(error.message) from error
        # Nothing to accept: the owner has the place already, and a code sent to this address opens it.
        link = f"{settings.SITE_URL}{reverse('account_request_login_code')}"
        self.stdout.write(
            f"{details.name} is open. {options['owner_name']} signs in with a code sent by e-mail:"
        )
        self.stdout.write(link)

    @transaction.atomic
    def _open(self, details: AcademyDetails, owner_name: str, owner_email: str) -> None:
        now = timezone.now()
        load_catalogue()
        owner = open_academy(details=details, owner_name=owner_name, owner_email=owner_email, now=now)
        install_starter_rubric(academy=owner.academy, actor=owner, now=now)
        ensure_rules(academy=owner.academy, now=now)
        install_starter_programme(academy=owner.academy, actor=owner, now=now)
        install_starter_rota(academy=owner.academy, actor=owner, now=now)
        make_signing_key(academy=owner.academy, now=now)  # last: a file is not rolled back
