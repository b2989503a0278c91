"""What would be dangerous to run is found before anybody signs in."""

import os
import subprocess
import sys
from types import SimpleNamespace

import pytest
from django.conf import settings

from academy import checks
from academy.checks import demo_stays_at_home, real_use_is_equipped
from tests.factories.signing_keys import lend_key
from tests.services.worker import ROOT

REAL = {
    "DEMO": False,
    "EMAIL_HOST": "smtp.fanlight.example",
    "SITE_URL": "https://fanlight.example",
    "STAFF_MFA_REQUIRED": True,
    "REDIS_URL": "redis://cache.fanlight.example/0",
    "DATABASES": {"default": {"ENGINE": "django.db.backends.postgresql"}},
}


@pytest.fixture
def found(monkeypatch):
    """Call it with a check and settings that differ from those of a well-equipped machine."""

    def ids(check, **changes):
        monkeypatch.setattr(checks, "settings", SimpleNamespace(**{**REAL, **changes}))
        return [message.id for message in check()]

    return ids


def test_real_use_that_is_equipped_passes(found):
    assert found(real_use_is_equipped) == []


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"DEMO": True}, "academy.E002"),
        ({"EMAIL_HOST": ""}, "academy.E003"),
        ({"SITE_URL": "http://fanlight.example"}, "academy.E004"),
        ({"STAFF_MFA_REQUIRED": False}, "academy.W001"),
        ({"REDIS_URL": ""}, "academy.W002"),
        ({"DATABASES": {"default": {"ENGINE": "django.db.backends.sqlite3"}}}, "academy.W003"),
    ],
)
def test_what_is_missing_for_real_use_is_named(found, change, problem):
    assert found(real_use_is_equipped, **change) == [problem]


def test_signing_keys_that_other_accounts_can_reach_stop_a_deployment(found):
    lend_key(1)
    settings.KEYS_DIR.chmod(0o755)
    assert found(real_use_is_equipped) == ["academy.E005"]


@pytest.mark.parametrize("passphrase", ["", "short"])
def test_a_machine_without_a_passphrase_for_its_keys_does_not_start(real_machine, passphrase):
    result = real_machine("manage.py", "check", FANLIGHT_KEYS_PASSPHRASE=passphrase)
    assert result.returncode != 0
    assert "FANLIGHT_KEYS_PASSPHRASE is missing or shorter than 32 characters" in result.stderr


@pytest.mark.parametrize(
    ("demo", "hosts", "problems"),
    [
        (True, ["localhost", "127.0.0.1"], []),
        (True, ["localhost", "fanlight.example"], ["academy.E001"]),
        (True, ["*"], ["academy.E001"]),
        (False, ["fanlight.example"], []),
    ],
)
def test_the_demo_answers_to_its_own_machine_only(found, demo, hosts, problems):
    assert found(demo_stays_at_home, DEMO=demo, ALLOWED_HOSTS=hosts) == problems


@pytest.fixture
def real_machine(tmp_path):
    """Call it with a command for Python: it runs under the settings of a machine for real use."""
    own = {name: value for name, value in os.environ.items() if not name.startswith(("FANLIGHT_", "DJANGO_"))}
    environment = {
        **own,
        "DJANGO_SETTINGS_MODULE": "academy.settings",
        "FANLIGHT_DATA_DIR": str(tmp_path),
        "FANLIGHT_SECRET_KEY": "only-for-this-test-" + "".join(map(chr, range(97, 123))) + "0123456789",
        "FANLIGHT_KEYS_PASSPHRASE": "only-for-this-test-too-" + "".join(map(chr, range(97, 123))),
        "FANLIGHT_HOSTS": "fanlight.example",
        "FANLIGHT_SITE_URL": "https://fanlight.example",
        "FANLIGHT_SMTP_HOST": "smtp.fanlight.example",
        "DATABASE_URL": "postgresql://fanlight@db.fanlight.example/fanlight",
        "REDIS_URL": "redis://cache.fanlight.example/0",
    }

    def run(*command: str, **changes: str) -> subprocess.CompletedProcess[str]:
        python = [sys.executable, *command]
        return subprocess.run(
            python, cwd=ROOT, env={**environment, **changes}, capture_output=True, text=True
        )

    return run


def test_a_machine_set_up_for_real_use_passes_djangos_own_deployment_checks(real_machine):
    result = real_machine("manage.py", "check", "--deploy", "--fail-level", "WARNING")
    assert result.returncode == 0, result.stderr


def test_cookies_are_bound_to_the_host_and_to_https(real_machine):
    """The __Host- prefix wants Secure, Path=/ and no Domain (RFC 6265bis, section 4.1.3.2)."""
    wanted = ("NAME", "SECURE", "HTTPONLY", "PATH", "DOMAIN", "SAMESITE")
    names = [f"{cookie}_COOKIE_{what}" for cookie in ("SESSION", "CSRF") for what in wanted]
    code = f"from django.conf import settings; print(*(getattr(settings, name) for name in {names}))"
    assert real_machine("-c", code).stdout.split() == [
        *("__Host-session", "True", "True", "/", "None", "Lax"),
        *("__Host-csrf", "True", "True", "/", "None", "Lax"),
    ]
