"""What others need to check a certificate by themselves: keys, the school's document, status lists."""

from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from academy.access import for_anyone
from academy.errors import NotHere
from assessments.credentials.keys import did_document, jwks, published_jwk
from assessments.credentials.status_list import status_credential
from assessments.credentials.tokens import sign
from assessments.models import PublicKey
from assessments.selectors.credentials import described_achievement, issuer_did, kid_of_key
from assessments.selectors.signing_keys import published_keys, signing_key
from assessments.selectors.status_lists import COPY_LASTS, status_list

KEY_LASTS = 3600  # seconds; a new key is published before it signs
FOR_EVER = 86_400  # one key under its own thumbprint never changes


@require_safe
@for_anyone
def key(request: HttpRequest, thumbprint: str) -> HttpResponse:
    """One key as one JWK: what a certificate names as its ``kid``."""
    row = PublicKey.objects.filter(thumbprint=thumbprint).first()
    if row is None:
        raise NotHere("key")
    found = published_jwk(row.jwk, kid_of_key(row.thumbprint))
    return _json(found, "application/jwk+json", lasts=FOR_EVER)


@require_safe
@for_anyone
def key_set(request: HttpRequest) -> HttpResponse:
    """Every key of every school here, those that sign no more among them."""
    keys = {kid_of_key(row.thumbprint): row.jwk for row in PublicKey.objects.all()}
    return _json(jwks(keys), "application/jwk-set+json", lasts=KEY_LASTS)


@require_safe
@for_anyone
def did(request: HttpRequest, academy_id: int) -> HttpResponse:
    """The school's did:web document with every key it ever had."""
    keys = {kid_of_key(row.thumbprint): row.jwk for row in published_keys(academy_id)}
    if not keys:
        raise NotHere("school")
    return _json(did_document(issuer_did(academy_id), keys), "application/did+json", lasts=KEY_LASTS)


@require_safe
@for_anyone
def programme(request: HttpRequest, academy_id: int, version_id: int) -> HttpResponse:
    """What a certificate was given for: the address that it names as its achievement."""
    found = described_achievement(academy_id, version_id)
    return _json(found, "application/ld+json", lasts=FOR_EVER)


@require_safe
@for_anyone
def status(request: HttpRequest, academy_id: int, purpose: str, number: int) -> HttpResponse:
    """Which certificates are revoked or suspended, signed; it says nothing of who asks about which."""
    if not published_keys(academy_id).exists():
        raise NotHere("school")
    found = status_list(academy_id, purpose, number, at=timezone.now())
    signer, thumbprint = signing_key(academy_id)
    token = sign(status_credential(found), signer, kid_of_key(thumbprint))
    response = HttpResponse(token, content_type="text/plain; charset=utf-8")
    return _kept(response, int(COPY_LASTS.total_seconds()))


def _json(document: dict[str, Any], media_type: str, *, lasts: int) -> HttpResponse:
    return _kept(JsonResponse(document, content_type=media_type), lasts)


def _kept(response: HttpResponse, lasts: int) -> HttpResponse:
    """May be kept and read by any page: it is meant for everybody."""
    response["Cache-Control"] = f"public, max-age={lasts}"
    response["Access-Control-Allow-Origin"] = "*"
    return response
