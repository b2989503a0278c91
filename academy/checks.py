"""What would be dangerous to run: found by ``manage.py check``, and by ``check --deploy`` for real use."""

from collections.abc import Iterator, Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, register
from django.core.checks import Warning as Doubt

from academy.signing_keys import exposed_files

LOCAL = {"127.0.0.1", "localhost", "[::1]", "testserver"}


@register("security")
def demo_stays_at_home(**kwargs: Any) -> Sequence[CheckMessage]:
    """The demo's passwords are printed on the screen, so nobody else's machine may reach it."""
    elsewhere = sorted(set(settings.ALLOWED_HOSTS) - LOCAL)
    if not settings.DEMO or not elsewhere:
        return []
    return [
        Error(
            f"The demo would answer to {', '.join(elsewhere)}.",
            hint="Unset FANLIGHT_DEMO for real use, or FANLIGHT_HOSTS for a demo on this machine.",
            id="academy.E001",
        )
    ]


@register("security", deploy=True)
def real_use_is_equipped(**kwargs: Any) -> Sequence[CheckMessage]:
    return list(_missing_equipment())


def _missing_equipment() -> Iterator[CheckMessage]:
    if settings.DEMO:
        yield Error(
            "FANLIGHT_DEMO is on.", hint="Unset it: the demo knows no second step.", id="academy.E002"
        )
    if not settings.EMAIL_HOST:
        yield Error("Letters would go to files.", hint="Set FANLIGHT_SMTP_HOST.", id="academy.E003")
    if not settings.SITE_URL.startswith("https://"):
        hint = "Set FANLIGHT_SITE_URL to the https address that people open."
        yield Error("The links in letters would not be https.", hint=hint, id="academy.E004")
    if exposed_files():
        hint = "Take group and others their rights: chmod -R go= FANLIGHT_KEYS_DIR."
        yield Error(
            "Other accounts of this machine can reach the signing keys.", hint=hint, id="academy.E005"
        )
    if not settings.STAFF_MFA_REQUIRED:
        yield Doubt(
            "Staff sign in without a second step.", hint="Unset FANLIGHT_STAFF_MFA.", id="academy.W001"
        )
    if not settings.REDIS_URL:
        hint = "Set REDIS_URL: limits on tries would be counted for each process alone."
        yield Doubt("There is no shared cache and no broker.", hint=hint, id="academy.W002")
    if settings.DATABASES["default"]["ENGINE"].endswith("sqlite3"):
        hint = "Set DATABASE_URL to a PostgreSQL database."
        yield Doubt("SQLite serves one machine only.", hint=hint, id="academy.W003")
