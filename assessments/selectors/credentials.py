"""A certificate as it is signed for others to check, and the addresses it names."""

from collections.abc import Iterator
from typing import Any

from django.conf import settings

from academy.errors import NotHere
from academy.templatetags.ui import LEVEL_WORDS
from assessments.credentials.achievement import (
    CREDENTIALS_V2,
    OPEN_BADGES_V3,
    Achievement,
    CertificateFacts,
    FigureResult,
    Issuer,
    LevelWords,
    SkillResult,
    StatusEntry,
)
from assessments.credentials.keys import did_web, key_url
from assessments.credentials.status_list import SUSPENSION
from assessments.models import Certificate
from assessments.scoring.certified import Certified, CertifiedSkill, certified_of, plain_words
from courses.models import ProgrammeVersion
from courses.programme.sheet import all_lines, unit_words
from courses.selectors.programmes import names, with_units


def known_sites() -> tuple[str, ...]:
    """Addresses under which this house signs or once signed, today's first."""
    return (settings.SITE_URL, *settings.FORMER_SITE_URLS)


def check_url(code: str) -> str:
    """Where anybody can check the certificate; also its identifier in the signed form."""
    return f"{settings.SITE_URL}/v/{code}"


def issuer_did(academy_id: int, site: str = "") -> str:
    return did_web(site or settings.SITE_URL, "schools", str(academy_id))


def kid_of_key(thumbprint: str) -> str:
    return key_url(settings.SITE_URL, thumbprint)


def status_url(academy_id: int, purpose: str, number: int) -> str:
    return f"{settings.SITE_URL}/status/{academy_id}/{purpose}/{number}"


def achievement_url(academy_id: int, version_id: int) -> str:
    """Where what was certified is described; also its identifier in the signed form."""
    return f"{settings.SITE_URL}/schools/{academy_id}/programmes/{version_id}"


def described_achievement(academy_id: int, version_id: int) -> dict[str, Any]:
    """What a version asks of everybody, once a certificate names it: nothing of anybody's own record.

    Four queries.
    """
    certified = Certificate.objects.filter(academy=academy_id, enrolment__version=version_id).exists()
    found = ProgrammeVersion.objects.filter(pk=version_id, programme__academy=academy_id)
    version = with_units(found).select_related("programme").first()
    if version is None or not certified:
        raise NotHere("programme")
    content = version.content
    units = [f"Unit: {unit_words(unit)}" for unit in content.units]
    lines = [f"{line.label}: {line.words}" for line in all_lines(content, names())]
    return {
        "@context": [CREDENTIALS_V2, OPEN_BADGES_V3],
        "id": achievement_url(academy_id, version_id),
        "type": ["Achievement"],
        "achievementType": "CertificateOfCompletion",
        "name": version.programme.name,
        "description": content.certificate.scope,
        "criteria": {"narrative": "\n".join([*lines, *units])},
        "version": str(version.number),
        "inLanguage": "en",
    }


def facts_of(certificate: Certificate) -> CertificateFacts:
    """All that is signed, from what was frozen."""
    certified = certified_of(certificate.content)
    academy_id, version_id = certificate.academy_id, certificate.enrolment.version_id
    return CertificateFacts(
        url=check_url(certificate.code),
        name=certified.programme,
        issuer=Issuer(issuer_did(academy_id), certified.school, settings.SITE_URL),
        subject=certificate.subject_id,
        achievement=_achievement(certified, achievement_url(academy_id, version_id)),
        valid_from=certificate.valid_from,
        valid_until=certificate.valid_until,
        awarded_at=certified.awarded_at,
        statuses=(_entry(certificate, SUSPENSION),),  # Open Badges 3.0 knows one entry
        holder_name=certificate.holder_name,
        narrative=" ".join(plain_words(certified)),
        started_on=certified.first_set_on,
        ended_on=certified.last_set_on,
        skills=tuple(_result(skill) for skill in certified.skills),
        figures=tuple(_figures(certified)),
    )


def _achievement(certified: Certified, url: str) -> Achievement:
    conditions = [f"{each.name}: {each.words}" for each in certified.conditions]
    return Achievement(
        url=url,
        name=certified.programme,
        description=certified.scope,
        criteria="\n".join(conditions),
        version=str(certified.programme_version),
    )


def _entry(certificate: Certificate, purpose: str) -> StatusEntry:
    url = status_url(certificate.academy_id, purpose, certificate.status_list)
    return StatusEntry(purpose, url, certificate.status_index)


def _result(skill: CertifiedSkill) -> SkillResult:
    described = skill.descriptors or ("",) * len(LEVEL_WORDS)
    levels = (LevelWords(level, name, described[level]) for level, name in enumerate(LEVEL_WORDS))
    return SkillResult(skill.code, skill.name, tuple(levels), skill.reached, skill.required)


def _figures(certified: Certified) -> Iterator[FigureResult]:
    yield FigureResult("theory", "Theory, hours credited", _hours(certified.theory_minutes))
    yield FigureResult("practice", "Practice, hours credited", _hours(certified.practical_minutes))
    yield FigureResult("sets", "Graded practice sets", str(certified.sets))


def _hours(minutes: int) -> str:
    return f"{minutes / 60:.2f}".rstrip("0").rstrip(".")
