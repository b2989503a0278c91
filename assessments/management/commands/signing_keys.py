from argparse import ArgumentParser
from collections.abc import Callable
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from academy.errors import DomainError
from academy.models import Academy
from academy.signing_keys import NoSigningKey
from assessments.selectors.signing_keys import published_keys, signing_key
from assessments.services.signing_keys import make_signing_key


class Command(BaseCommand):
    help = "Keys that sign an academy's certificates: make the first, rotate by adding one, or list them."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("verb", choices=("make", "rotate", "list"))
        parser.add_argument("--academy", type=int, help="key of one academy; without it, list shows them all")

    def handle(self, *args: Any, verb: str, academy: int | None, **options: Any) -> None:
        verbs: dict[str, Callable[[Academy], None]] = {
            "make": self._make,
            "rotate": self._rotate,
            "list": self._list,
        }
        if academy is None and verb != "list":
            raise CommandError(f"Say whose key: signing_keys {verb} --academy NUMBER. {self._known()}")
        for each in self._chosen(academy):
            try:
                verbs[verb](each)
            except DomainError as error:
                raise CommandError(error.message) from error

    def _chosen(self, academy: int | None) -> list[Academy]:
        rows = Academy.objects.order_by("pk")
        chosen = list(rows if academy is None else rows.filter(pk=academy))
        if not chosen:
            raise CommandError(f"There is no academy {academy or 'here'}. {self._known()}")
        return chosen

    def _known(self) -> str:
        known = ", ".join(f"{row.pk} {row.name}" for row in Academy.objects.order_by("pk"))
        return f"Those here: {known or 'none'}."

    def _make(self, academy: Academy) -> None:
        if published_keys(academy.pk).exists():
            raise CommandError(
                f"{academy.name} has a key already. To sign with another from now on: "
                f"signing_keys rotate --academy {academy.pk}"
            )
        self._add(academy)

    def _rotate(self, academy: Academy) -> None:
        if not published_keys(academy.pk).exists():
            raise NoSigningKey(academy.pk)
        self._add(academy)

    def _add(self, academy: Academy) -> None:
        row = make_signing_key(academy=academy, now=timezone.now())
        self.stdout.write(
            f"{academy.name} signs with {row.thumbprint} from now on. Keys from before stay published: "
            "certificates signed with them can still be checked. Back up the keys folder and its passphrase."
        )

    def _list(self, academy: Academy) -> None:
        rows = list(published_keys(academy.pk))
        if not rows:
            self.stdout.write(f"{academy.name} has no key: signing_keys make --academy {academy.pk}")
            return
        _, signs = signing_key(academy.pk)
        self.stdout.write(f"{academy.name}:")
        for row in rows:
            use = "signs" if row.thumbprint == signs else "checks"
            self.stdout.write(f"  {row.thumbprint}  made {row.created_at:%Y-%m-%d}  {use}")
