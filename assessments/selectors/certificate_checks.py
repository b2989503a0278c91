"""What anybody may know of a certificate: by its code, or by the file itself."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from secrets import compare_digest
from typing import Any

from assessments.credentials.code import normalise
from assessments.credentials.keys import key_url
from assessments.credentials.reading import Shown, shown_of
from assessments.credentials.tokens import Refusal, TokenRefused, kid_of, verify
from assessments.credentials.uploads import UploadRefused, token_in
from assessments.models import Certificate, CertificateEvent, PublicKey
from assessments.scoring.certificate_state import State, certificate_state
from assessments.selectors.credentials import issuer_did, known_sites


class Word(StrEnum):
    """What is said where there is no certificate to speak of."""

    UNKNOWN = "unknown"
    NOT_GENUINE = "not genuine"
    NOT_READABLE = "not readable"


SENTENCES: Mapping[State | Word, str] = {
    State.VALID: "This certificate is genuine and in force today.",
    State.NOT_YET: "This certificate is genuine, but its first day has not come yet.",
    State.EXPIRED: "This certificate is genuine, but its time is over.",
    State.SUSPENDED: "The school has suspended this certificate: it does not count until it is restored.",
    State.REPLACED: "The school has issued another certificate in place of this one. Ask for that one.",
    State.REVOKED: "The school has revoked this certificate. It does not count any more.",
    Word.UNKNOWN: "No certificate with this code was issued here. Compare every letter with the certificate.",
    Word.NOT_GENUINE: "What is kept under this code does not bear the school's signature. Ask the school.",
}
NOTHING_IN_IT = "This file carries no certificate. Hand in the .jwt, the badge or the PDF as downloaded."
NOT_ISSUED = "This file is signed, but no such certificate was issued here. Ask the school."


@dataclass(frozen=True, slots=True)
class Check:
    """One answer; without ``shown`` there is nothing to tell but the word and its sentence.

    ``shown``: only what the signature covers. ``since``: when the academy suspended, replaced or revoked it.
    """

    word: State | Word
    sentence: str
    shown: Shown | None = None
    certificate: Certificate | None = None
    shows_marks: bool = False
    since: datetime | None = None

    @property
    def is_known(self) -> bool:
        return self.shown is not None


def check_code(text: str, *, at: datetime) -> Check:
    """Three queries, whether there is such a certificate or not."""
    code = normalise(text) or ""
    # All is asked before anything is answered, so that unknown takes no other way than known.
    row = Certificate.objects.filter(code=code).select_related("sharing").first()
    events = list(CertificateEvent.objects.filter(certificate__code=code))
    key = PublicKey.objects.filter(thumbprint=row.key_thumbprint if row else "").first()
    if row is None:
        return _nothing(Word.UNKNOWN)
    signed = _kept(row, key)
    return _nothing(Word.NOT_GENUINE) if signed is None else _answer(row, shown_of(signed), events, at)


def check_file(upload: bytes, *, at: datetime) -> Check:
    """A file counts only when it is exactly the one that was issued; up to four queries."""
    try:
        token = token_in(upload)
        if token is None:
            return Check(Word.NOT_READABLE, NOTHING_IN_IT)
        signed = _handed_in(token)
    except UploadRefused as refused:
        return Check(Word.NOT_READABLE, str(refused))
    except TokenRefused as refused:
        return Check(Word.NOT_GENUINE, str(refused))
    found = check_code(signed["id"].rpartition("/")[2], at=at)
    if found.certificate is None or not compare_digest(found.certificate.token, token):
        return Check(Word.NOT_GENUINE, NOT_ISSUED)
    return found


def _nothing(word: Word) -> Check:
    return Check(word, SENTENCES[word])


def _answer(row: Certificate, shown: Shown, events: list[CertificateEvent], at: datetime) -> Check:
    state = certificate_state(
        valid_from=shown.valid_from,
        valid_until=shown.valid_until,
        events=[event.kind for event in events],
        at=at,
    )
    sharing = getattr(row, "sharing", None)
    return Check(
        word=state,
        sentence=SENTENCES[state],
        shown=shown,
        certificate=row,
        shows_marks=sharing is not None and sharing.shows_marks,
        since=next((event.at for event in reversed(events) if event.kind == state), None),
    )


def _kept(row: Certificate, key: PublicKey | None) -> dict[str, Any] | None:
    """What the kept token says, if the academy signed it for this code; a row changed since then fails."""
    if key is None or key.academy_id != row.academy_id:
        return None
    try:
        signed = _signed(row.token, key)
    except TokenRefused:
        return None
    return signed if signed["id"].endswith(f"/v/{row.code}") else None


def _handed_in(token: str) -> dict[str, Any]:
    """The key is found among ours by its name, and speaks only for the academy that it belongs to."""
    thumbprint = kid_of(token).rpartition("/")[2]
    return _signed(token, PublicKey.objects.filter(thumbprint=thumbprint).first())


def _signed(token: str, key: PublicKey | None) -> dict[str, Any]:
    """Addresses are ours only: those of today and those this house had when it signed."""
    kid = kid_of(token)
    sites = [site for site in known_sites() if key and kid == key_url(site, key.thumbprint)]
    if key is None or not sites:
        raise TokenRefused(Refusal.UNKNOWN_KEY)
    return verify(token, {kid: key.jwk}, issuer_did(key.academy_id, sites[0]))
