"""Secrets of the second step lie sealed in the database and open with the keys of today and of before."""

import base64
import hashlib
import hmac
import time

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP
from allauth.mfa.utils import decrypt, encrypt
from cryptography.fernet import Fernet

from academy.adapters import SEALED, SecondStepUnreadable
from tests.academy.test_second_step import totp
from tests.factories.academy import Cast

TODAY, BEFORE = "today's secret, which is long enough", "yesterday's secret, which is long enough"
APP_KEY = base64.b32encode(b"12345678901234567890").decode()  # RFC 6238, appendix B


def hkdf(secret: bytes, info: bytes) -> bytes:
    """RFC 5869 by hand: extract with a salt of 32 zeros, then the first block of the expansion."""
    extracted = hmac.digest(bytes(32), secret, hashlib.sha256)
    return hmac.digest(extracted, info + b"\x01", hashlib.sha256)


@pytest.fixture(autouse=True)
def _secrets(settings):
    settings.SEALING_SECRETS = [TODAY]


def test_the_key_is_the_one_of_rfc_5869():
    key = base64.urlsafe_b64encode(hkdf(TODAY.encode(), b"fanlight second step 1"))
    assert Fernet(key).decrypt(encrypt(APP_KEY).removeprefix(SEALED)).decode() == APP_KEY


def test_the_same_secret_never_looks_the_same():
    first, second = encrypt(APP_KEY), encrypt(APP_KEY)
    assert first != second and APP_KEY not in first
    assert decrypt(first) == decrypt(second) == APP_KEY


def test_an_old_secret_still_opens_and_seals_nothing_new(settings):
    settings.SEALING_SECRETS = [BEFORE]
    old = encrypt(APP_KEY)
    settings.SEALING_SECRETS = [TODAY, BEFORE]
    new = encrypt(APP_KEY)
    assert decrypt(old) == APP_KEY
    settings.SEALING_SECRETS = [TODAY]
    assert decrypt(new) == APP_KEY


def test_without_its_secret_it_says_what_to_do(settings):
    settings.SEALING_SECRETS = [BEFORE]
    old = encrypt(APP_KEY)
    settings.SEALING_SECRETS = [TODAY]
    with pytest.raises(SecondStepUnreadable, match="FANLIGHT_OLD_SECRETS"):
        decrypt(old)


def test_what_was_altered_does_not_open():
    sealed = encrypt(APP_KEY)
    with pytest.raises(SecondStepUnreadable):
        decrypt(sealed[:-6] + ("AAAA==" if not sealed.endswith("AAAA==") else "BBBB=="))


def test_what_was_kept_before_there_was_a_seal_is_read():
    assert decrypt(APP_KEY) == APP_KEY


@pytest.mark.django_db
def test_an_authenticator_app_and_recovery_codes_work_and_leave_nothing_readable_behind(cast: Cast):
    app = TOTP.activate(cast.ines.user, APP_KEY)
    codes = RecoveryCodes.activate(cast.ines.user)
    kept = "".join(str(row.data) for row in Authenticator.objects.all())
    assert APP_KEY not in kept and kept.count(SEALED) == 2
    assert TOTP(Authenticator.objects.get(pk=app.instance.pk)).validate_code(
        totp(b"12345678901234567890", time.time())
    )
    code = codes.get_unused_codes()[0]
    again = RecoveryCodes(Authenticator.objects.get(pk=codes.instance.pk))
    assert code not in kept and again.validate_code(code) and not again.validate_code(code)
