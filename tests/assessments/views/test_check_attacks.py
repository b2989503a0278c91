"""Forged, changed, replayed, guessed and hostile: the check page refuses each with the right word."""

import base64
import hmac
import io
import json
import zlib
from dataclasses import dataclass
from datetime import timedelta
from hashlib import sha256
from typing import Any

import pikepdf
import pytest
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import models
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from academy.signing_keys import newest_key
from assessments.credentials.achievement import credential
from assessments.credentials.baking import bake
from assessments.credentials.tokens import LONGEST_TOKEN, sign
from assessments.credentials.uploads import LARGEST_UPLOAD
from assessments.documents import badge_png
from assessments.models import Certificate, PublicKey
from assessments.selectors.credentials import facts_of, kid_of_key
from assessments.services.certificates import (
    restore_certificate,
    revoke_certificate,
    suspend_certificate,
)
from tests.factories.academy import Cast
from tests.factories.certificates import certified_ada, make_certificate
from tests.factories.credentials import key, segment, signed_anyway

pytestmark = pytest.mark.django_db
FILE = reverse("assessments:check-file")


@dataclass(frozen=True, slots=True)
class World:
    """Ada's certificate, and one of the school next door."""

    row: Certificate
    others: Certificate


@pytest.fixture
def world(cast: Cast) -> World:
    return World(certified_ada(cast), make_certificate(cast.omar_student, cast.omar))


def word(content: bytes | str, name: str = "certificate.jwt") -> str:
    """What the page says of a file, told as JSON."""
    data = content.encode() if isinstance(content, str) else content
    upload = {"file": SimpleUploadedFile(name, data)}
    answer = Client().post(FILE, upload, headers={"accept": "application/json"})
    told = json.loads(answer.content)
    assert "holder" not in told or told["state"] not in {"unknown", "not genuine", "not readable"}
    return str(told["state"])


def state_of(row: Certificate) -> str:
    url = reverse("assessments:check-code", args=[row.code])
    return str(json.loads(Client().get(url, headers={"accept": "application/json"}).content)["state"])


def parts(token: str) -> tuple[dict[str, Any], dict[str, Any], str]:
    head, body, signature = token.split(".")
    return json.loads(unpacked(head)), json.loads(unpacked(body)), signature


def unpacked(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def altered(token: str, **changes: Any) -> str:
    """The payload changed under the old header and signature."""
    head, payload, signature = parts(token)
    return f"{segment(head)}.{segment({**payload, **changes})}.{signature}"


def own_kid(row: Certificate) -> str:
    return kid_of_key(row.key_thumbprint)


def test_the_true_file_is_valid_so_that_the_rest_means_something(world: World):
    assert word(world.row.token) == word(bake(badge_png(world.row), world.row.token)) == "valid"


@pytest.mark.parametrize("place", [0.2, 0.5, 0.9])
def test_a_changed_byte(world: World, place: float):
    body_start, body_end = world.row.token.index(".") + 1, world.row.token.rindex(".")
    at = body_start + int((body_end - body_start) * place)
    symbol = "A" if world.row.token[at] != "A" else "B"
    assert word(world.row.token[:at] + symbol + world.row.token[at + 1 :]) == "not genuine"


def test_a_changed_level_and_a_longer_life(world: World):
    _, payload, _ = parts(world.row.token)
    payload["credentialSubject"]["result"][0]["achievedLevel"] += "0"
    assert word(altered(world.row.token, **payload)) == "not genuine"
    assert (
        word(altered(world.row.token, exp=4_000_000_000, validUntil="2096-10-02T07:06:40Z")) == "not genuine"
    )


def test_a_swapped_subject_or_holder(world: World):
    _, payload, _ = parts(world.row.token)
    subject = payload["credentialSubject"] | {"id": "urn:uuid:00000000-0000-4000-8000-000000000001"}
    assert word(altered(world.row.token, sub=subject["id"], credentialSubject=subject)) == "not genuine"
    subject = payload["credentialSubject"] | {"identifier": [{"type": "IdentityObject", "hashed": False,
               "identityHash": "Eve Grange", "identityType": "name"}]}  # fmt: skip
    assert word(altered(world.row.token, credentialSubject=subject)) == "not genuine"


def test_the_key_of_another_issuer(world: World):
    _, payload, _ = parts(world.row.token)
    stranger = {"alg": "RS256", "kid": own_kid(world.row), "typ": "JWT"}
    assert word(signed_anyway(stranger, payload, "thief")) == "not genuine"
    named = stranger | {"kid": kid_of_key("A" * 43)}
    assert word(signed_anyway(named, payload, "thief")) == "not genuine"


def test_the_school_next_door_cannot_sign_for_this_one(world: World, cast: Cast):
    """Its key is known here and its signature is true; the issuer named is another."""
    theirs = newest_key(cast.other_academy.pk)
    token = sign(credential(facts_of(world.row)), theirs, own_kid(world.others))
    assert word(token) == "not genuine"


def test_what_this_school_signed_but_never_issued(world: World, cast: Cast):
    """Even with the key stolen, a certificate that is not in the books does not count."""
    facts = facts_of(world.row)
    stolen = newest_key(cast.academy.pk)
    other = sign(credential(facts) | {"name": "Master of everything"}, stolen, own_kid(world.row))
    assert word(other) == "not genuine"
    invented = credential(facts) | {"id": f"{facts.url[:-12]}{'0' * 12}"}
    assert word(sign(invented, stolen, own_kid(world.row))) == "not genuine"


def test_no_algorithm(world: World):
    head, payload, _ = parts(world.row.token)
    for algorithm in ("none", "None", "NONE", ""):
        bare = f"{segment(head | {'alg': algorithm})}.{segment(payload)}"
        assert word(f"{bare}.") in {"not genuine", "not readable"}
        assert word(f"{bare}.AAAA") == "not genuine"


def test_the_public_key_as_a_shared_secret(world: World, cast: Cast):
    head, payload, _ = parts(world.row.token)
    public = newest_key(cast.academy.pk).public_key()
    signed = f"{segment(head | {'alg': 'HS256'})}.{segment(payload)}"
    for encoding, form in (
        (Encoding.PEM, PublicFormat.SubjectPublicKeyInfo),
        (Encoding.DER, PublicFormat.PKCS1),
    ):
        secret = public.public_bytes(encoding, form)
        mac = hmac.digest(secret, signed.encode(), sha256)
        assert word(f"{signed}.{segment(mac)}") == "not genuine"


@pytest.mark.parametrize(
    "kid",
    [
        "https://thief.example/keys/one",
        "http://127.0.0.1:8000/keys/../../etc/passwd",
        "file:///etc/passwd",
        "x' OR '1'='1",
        "",
    ],
)
def test_a_key_that_lies_elsewhere_is_never_fetched(world: World, kid: str, monkeypatch):
    def refuse(*args: Any, **kwargs: Any) -> None:
        raise AssertionError("something was fetched")

    monkeypatch.setattr("socket.create_connection", refuse)
    _, payload, _ = parts(world.row.token)
    assert word(signed_anyway({"alg": "RS256", "kid": kid, "typ": "JWT"}, payload, "thief")) == "not genuine"


def test_our_thumbprint_at_another_host(world: World):
    _, payload, _ = parts(world.row.token)
    elsewhere = f"https://thief.example/keys/{world.row.key_thumbprint}"
    token = signed_anyway({"alg": "RS256", "kid": elsewhere, "typ": "JWT"}, payload, "thief")
    assert word(token) == "not genuine"


def test_a_key_inside_the_token_is_not_believed(world: World):
    _, payload, _ = parts(world.row.token)
    numbers = key("thief").public_key().public_numbers()
    jwk = {"kty": "RSA", "e": "AQAB", "n": segment(numbers.n.to_bytes(384, "big"))}
    for more in (
        {"jwk": jwk},
        {"jku": "https://thief.example/jwks.json"},
        {"x5u": "https://thief.example/c"},
    ):
        header = {"alg": "RS256", "kid": own_kid(world.row), "typ": "JWT", **more}
        assert word(signed_anyway(header, payload, "thief")) == "not genuine"


def test_an_old_status_list_says_nothing_here(world: World, cast: Cast):
    """The page asks its own books: a list from before the revocation changes no answer."""
    url = reverse("assessments:status", args=[cast.academy.pk, "revocation", 1])
    old = Client().get(url).content
    assert old != b""
    revoke_certificate(certificate=world.row, reason="Fraud", actor=cast.owner, now=timezone.now())
    assert word(old, "list.jwt") == "not genuine"
    assert word(world.row.token) == state_of(world.row) == "revoked"


def test_revoked_stays_revoked_and_suspended_comes_back(world: World, cast: Cast):
    now = timezone.now()
    suspend_certificate(certificate=world.row, reason="Asked", actor=cast.owner, now=now)
    assert word(world.row.token) == "suspended"
    restore_certificate(certificate=world.row, reason="Settled", actor=cast.owner, now=now)
    assert word(world.row.token) == "valid"
    revoke_certificate(certificate=world.row, reason="Fraud", actor=cast.owner, now=now)
    with pytest.raises(Exception, match="This certificate is revoked"):
        restore_certificate(certificate=world.row, reason="Back", actor=cast.owner, now=now)
    assert word(world.row.token) == "revoked"


@pytest.mark.parametrize(
    "change",
    [
        {"token": "x.y.z"},
        {"code": "0" * 12},
        {"key_thumbprint": "A" * 43},
    ],
)
def test_a_row_changed_behind_the_services_bears_no_signature(world: World, change: dict[str, Any]):
    models.QuerySet(Certificate).filter(pk=world.row.pk).update(**change)
    row = Certificate.objects.get(pk=world.row.pk)
    assert state_of(row) == "not genuine"


def test_what_is_shown_comes_from_the_signature_and_not_from_the_row(world: World):
    """Whoever can write to the database can still not change what the page says."""
    content = world.row.content | {"holder": "Eve Grange", "theory_minutes": 99_999, "programme": "Mastery"}
    far = timezone.now() + timedelta(days=9_000)
    models.QuerySet(Certificate).filter(pk=world.row.pk).update(
        content=content, holder_name="Eve Grange", valid_until=far
    )
    page = Client().get(reverse("assessments:check-code", args=[world.row.code])).content.decode()
    assert "Ada Marsh" in page and "Eve Grange" not in page and "Mastery" not in page and "1666" not in page
    assert f"{world.row.valid_until:%B %Y}" in page


def test_a_key_put_among_the_published_ones_of_another_school_does_not_speak_for_this_one(
    world: World, cast: Cast
):
    PublicKey.objects.create(
        academy=cast.other_academy,
        thumbprint="B" * 43,
        jwk={
            "kty": "RSA",
            "e": "AQAB",
            "n": segment(key("thief").public_key().public_numbers().n.to_bytes(384)),
        },
        created_at=timezone.now(),
    )
    _, payload, _ = parts(world.row.token)
    header = {"alg": "RS256", "kid": kid_of_key("B" * 43), "typ": "JWT"}
    assert word(signed_anyway(header, payload, "thief")) == "not genuine"


def png_with(text: bytes) -> bytes:
    """A picture whose one text chunk claims to be a certificate."""
    body = b"openbadgecredential\0\0\0\0\0" + text
    chunk = len(body).to_bytes(4) + b"iTXt" + body + zlib.crc32(b"iTXt" + body).to_bytes(4)
    start = base64.b64decode(
        "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR4nGNgAAAAAgABSK+kcQAAAABJRU5ErkJggg=="
    )
    return start[:33] + chunk + start[33:]


def pdf_with(content: bytes) -> bytes:
    out = io.BytesIO()
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        pdf.attachments["certificate.jwt"] = pikepdf.AttachedFileSpec(pdf, content)
        pdf.save(out)
    return out.getvalue()


HOSTILE = {
    "nothing": b"",
    "noise": bytes(range(256)) * 40,
    "a page": b"<html><script>alert(1)</script></html>",
    "a picture cut short": png_with(b"x.y.z")[:60],
    "a picture with a broken chunk": b"\x89PNG\r\n\x1a\n\xff\xff\xff\xffiTXt",
    "a print cut short": b"%PDF-1.7\n1 0 obj\n<< /Type /EmbeddedFile /Length 99999999 >>\nstream\n",
    "a print that unpacks to a gigabyte": pdf_with(b"A" * 50_000_000),
    "an endless token": b"a" * LONGEST_TOKEN + b".b.c",
    "a deep nest": segment(b"[" * 50_000).encode() + b".e30.AAAA",
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_answered_in_words(name: str):
    assert len(HOSTILE[name]) <= LARGEST_UPLOAD
    if HOSTILE[name]:
        assert word(HOSTILE[name], name) in {"not readable", "not genuine"}
    answer = Client().post(FILE, {"file": SimpleUploadedFile(name, HOSTILE[name])})
    assert answer.status_code in {200, 422}
    assert "alert(1)" not in answer.content.decode()


@pytest.mark.parametrize("carry", [png_with, pdf_with])
def test_a_forged_token_in_a_picture_or_a_print(world: World, carry):
    forged = altered(world.row.token, name="Mastery")
    assert word(carry(forged.encode())) == "not genuine"
    assert word(carry(world.row.token.encode())) == "valid"


def test_too_large_a_file_is_refused_before_it_is_read():
    class Unread(io.BytesIO):
        def read(self, *args: Any) -> bytes:
            raise AssertionError("it was read")

    answer = Client().generic(
        "POST",
        FILE,
        b"",
        content_type="multipart/form-data; boundary=b",
        CONTENT_LENGTH=str(LARGEST_UPLOAD * 20),
        **{"wsgi.input": Unread()},
    )
    assert answer.status_code == 413 and b"larger than 5 MB" in answer.content


@pytest.mark.parametrize(
    ("content_type", "body"),
    [
        ("multipart/form-data; boundary=b", b"--b\r\nbroken"),
        ("multipart/form-data", b"no boundary"),
        ("multipart/form-data; boundary=b", b"--b\r\n" + b"X" * 20_000),
        ("multipart/form-data; boundary=b", b"".join(
            b'--b\r\nContent-Disposition: form-data; name="f%d"; filename="f"\r\n\r\nx\r\n' % nth
            for nth in range(300)) + b"--b--"),
        ("application/x-www-form-urlencoded", b"file=abc"),
    ],
)  # fmt: skip
def test_a_broken_form_is_answered_in_words(content_type: str, body: bytes):
    answer = Client().generic("POST", FILE, body, content_type=content_type)
    assert answer.status_code in {200, 422}
    assert b"Choose" in answer.content


def test_codes_that_are_no_codes(world: World):
    for code in ("'; DROP TABLE", "%00", "../../etc", "<script>", "０" * 12, "a" * 60, "."):
        answer = Client().get(f"/v/{code}")
        assert answer.status_code == 404, code
        assert b"<script" not in answer.content
