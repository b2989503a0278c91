"""Certificates on paper and as a badge, told from what was frozen at their issue."""

import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime
from io import BytesIO
from typing import Any
from urllib.parse import urlsplit
from zipfile import ZipFile, ZipInfo
from zoneinfo import ZoneInfo

from django.utils.dateformat import format as format_date

from academy import pdf
from academy.qr import qr_svg
from academy.templatetags.ui import LEVEL_WORDS, TOP_LEVEL
from assessments.credentials.code import grouped
from assessments.models import Certificate
from assessments.scoring.certified import Certified, CertifiedSkill, certified_of, counted, hours_words
from assessments.selectors.credentials import check_url

BADGE_POINTS = 300
BADGE_PIXELS = 900


def certificate_pdf(certificate: Certificate) -> bytes:
    """The certificate for the wall and the page that it rests on, with its signed form attached.

    A4 landscape, dated as issued; the same certificate gives the same bytes.
    """
    page = certificate_data(certificate) | {"token": certificate.token}
    return _printed(
        [page], title=f"Certificate of training, {certificate.holder_name}", at=certificate.issued_at
    )


def certificates_pdf(certificates: Iterable[Certificate], *, title: str) -> bytes:
    """Several certificates as one file to print, in the order given; the signed forms are left out.

    Dated as the newest of them was issued: the same certificates give the same bytes. At least one.
    """
    issued, pages = zip(*((row.issued_at, certificate_data(row)) for row in certificates), strict=True)
    return _printed(pages, title=title, at=max(issued))


def certificates_zip(certificates: Iterable[Certificate]) -> bytes:
    """A file of its own for each, as ``certificate_pdf`` makes it; the same certificates, the same bytes."""
    packed = BytesIO()
    with ZipFile(packed, "w") as archive:  # not compressed: what is in a PDF already is
        for row in certificates:
            issued = row.issued_at.astimezone(UTC).timetuple()[:6]
            archive.writestr(ZipInfo(certificate_name(row), issued), certificate_pdf(row))
    return packed.getvalue()


def certificate_name(certificate: Certificate) -> str:
    """For a file; a name with a slash in it must not become a folder."""
    holder = re.sub(r"[\\/:]+", "-", certificate.holder_name)
    return f"Certificate {certificate.number}, {holder}.pdf"


def badge_png(certificate: Certificate) -> bytes:
    """The square picture that carries the signed form once that is baked into it; it names no holder."""
    certified = certified_of(certificate.content)
    data = {"school": certified.school, "programme": certified.programme, "side": BADGE_POINTS}
    return pdf.picture("badge.typ", data, pixels_a_point=BADGE_PIXELS / BADGE_POINTS)


def _printed(pages: Sequence[dict[str, Any]], *, title: str, at: datetime) -> bytes:
    data = {"title": title, "author": pages[0]["school"], "certificates": pages}
    return pdf.render("certificate.typ", data, at=at)


def certificate_data(certificate: Certificate) -> dict[str, Any]:
    """What both pages say, as text ready to print."""
    certified = certified_of(certificate.content)
    zone = ZoneInfo(certificate.academy.time_zone)
    return {
        "school": certified.school,
        "town": certified.town,
        "holder": certificate.holder_name,
        "programme": certified.programme,
        "scope": certified.scope,
        "educator": certified.educator,
        "facts": list(_facts(certified)),
        "dates": _dates(certificate, zone),
        **_proof(certificate),
        "rests": _rests(certified, _day_of(certified.awarded_at, zone)),
        "skills": [_skill(skill) for skill in certified.skills],
        "legend": _legend(),
        "hours": _hours(certified),
        "record": list(_record(certified)),
        "conditions": [(met.name, met.words) for met in certified.conditions],
        "running": f"{certified.school}, certificate {certificate.number}, {certificate.holder_name}",
    }


def _facts(certified: Certified) -> Iterator[tuple[str, str]]:
    if certified.theory_minutes:
        yield "Theory", hours_words(certified.theory_minutes)
    if certified.practical_minutes:
        yield "Practice", hours_words(certified.practical_minutes)
    yield "Graded sets", str(certified.sets)
    first, last = certified.first_set_on, certified.last_set_on
    if first and last:
        days = (("On", first),) if first == last else (("From", first), ("To", last))
        yield from ((label, _told(day)) for label, day in days)


def _dates(certificate: Certificate, zone: ZoneInfo) -> str:
    """Issue and end; the first issue too when this one came later, under another name."""
    awarded = _day_of(certified_of(certificate.content).awarded_at, zone)
    issued = _day_of(certificate.valid_from, zone)
    told = f"Issued {issued}" if issued == awarded else f"Awarded {awarded}, issued again {issued}"
    if certificate.valid_until is None:
        return f"{told}, without an end date"
    return f"{told}, valid until {_day_of(certificate.valid_until, zone)}"


def _proof(certificate: Certificate) -> dict[str, str]:
    """Number, code and the address where anybody can check them, also as a code for cameras."""
    url = check_url(certificate.code)
    return {
        "number": str(certificate.number),
        "code": grouped(certificate.code),
        "link": url,
        "address": url.partition("://")[2],
        "qr": qr_svg(_scanned(url, certificate.code)),
        "qr_alt": f"Code for cameras with the address {url}",
        "token": "",
        "token_name": f"certificate-{certificate.number}.jwt",
        "token_words": "The signed certificate, to hand in at the check page",
    }


def _scanned(url: str, code: str) -> str:
    """In capitals, which make a smaller code; the check page knows them, another path of a site may not."""
    return url.upper() if urlsplit(url).path == f"/v/{code}" else url


def _rests(certified: Certified, awarded: str) -> str:
    sets = counted(certified.sets, "graded practice set")
    return f"Levels as they stood on {awarded}, from {sets}. Later marks do not change this page."


def _skill(skill: CertifiedSkill) -> dict[str, Any]:
    return {
        "name": skill.name,
        "gate": skill.is_gate,
        "level": f"{skill.level:.1f}",
        "word": skill.level_word,
        "at": _on_scale(skill.level),
        "low": _on_scale(skill.low),
        "high": _on_scale(skill.high),
        "interval": f"{skill.low:.1f} to {skill.high:.1f}",
        "sets": str(skill.sets),
    }


def _on_scale(level: float) -> float:
    return min(float(TOP_LEVEL), max(0.0, level))


def _legend() -> str:
    levels = ", ".join(f"{level} {word}" for level, word in enumerate(LEVEL_WORDS))
    return (
        f"Levels: {levels}. The dot is the level expected on a reference brief with an average educator, "
        "the bar its 90 % interval. A gate skill protects the eye: no average hides it."
    )


def _hours(certified: Certified) -> list[tuple[str, str]]:
    theory, practical = certified.theory_minutes, certified.practical_minutes
    return [
        ("Theory", hours_words(theory)),
        ("Practice", hours_words(practical)),
        ("In all", hours_words(theory + practical)),
    ]


def _record(certified: Certified) -> Iterator[tuple[str, str]]:
    yield "Programme", f"{certified.programme}, version {certified.programme_version}"
    first, last = certified.first_set_on, certified.last_set_on
    if first and last:
        yield "Sets", _told(first) if first == last else f"{_told(first)} to {_told(last)}"
    if certified.gate_opened_on:
        yield "Gate to live models", f"opened {_told(certified.gate_opened_on)}"
    if certified.rubric_versions:
        yield "Rubric", "; ".join(certified.rubric_versions)
    if certified.parameter_version is not None:
        yield "Skill estimate", f"parameter version {certified.parameter_version}"


def _day_of(at: datetime, zone: ZoneInfo) -> str:
    return _told(at.astimezone(zone).date())


def _told(day: date) -> str:
    return format_date(day, "j F Y")
