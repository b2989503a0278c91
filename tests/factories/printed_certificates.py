"""Certificates as they are printed, without a database: a row of an invented student of the demo's school."""

from datetime import UTC, date, datetime
from typing import Any

from academy.models import Academy
from assessments.models import Certificate
from assessments.scoring.certified import Certified, CertifiedCondition, CertifiedSkill, content_of

AWARDED = datetime(2026, 8, 12, 9, 30, tzinfo=UTC)
CODE = "7K2M9QWX4RTB"
SCOPE = (
    "Classic and open-fan volume extensions on mannequin heads and on live models under supervision: "
    "hygiene, isolation, placement, adhesive handling, removal and aftercare."
)
SKILLS = (
    ("Isolation", True, 3.6, "sound", 3.1, 3.9, 14),
    ("Placement", True, 3.4, "sound", 2.9, 3.8, 14),
    ("Hygiene", True, 4.0, "exam-ready", 3.6, 4.0, 14),
    ("Product fit", True, 3.5, "sound", 3.0, 3.9, 14),
    ("Fan closure", False, 3.2, "sound", 2.7, 3.6, 14),
    ("Wrap and base", False, 3.1, "sound", 2.5, 3.6, 12),
    ("Direction", False, 3.0, "sound", 2.4, 3.5, 14),
    ("Length map", False, 3.7, "sound", 3.2, 4.0, 13),
    ("Layers", False, 2.6, "developing", 2.0, 3.2, 9),
    ("Coverage", False, 3.3, "sound", 2.8, 3.7, 14),
    ("Symmetry", False, 2.9, "developing", 2.3, 3.4, 14),
    ("Adhesive", False, 3.5, "sound", 3.0, 3.9, 14),
    ("Attachment", False, 3.1, "sound", 2.4, 3.7, 11),
    ("Time", False, 2.7, "developing", 2.1, 3.3, 14),
)
CONDITIONS = (
    ("Theory units", "All 9 units that come before live models are signed off."),
    ("Hours", "24 h of theory and 62 h 30 min of practice are credited."),
    ("Hygiene lines", "Every line signed in the last 3 sets."),
    ("Gate skills", "Isolation, placement, hygiene and product fit are declared competent."),
    ("Mastery", "3 sets in a row on 3 days met the mastery conditions."),
    ("Blind second mark", "1 of the last 3 sets was marked a second time without seeing the first marks."),
    ("Consent", "Consent to the assessment record is given."),
    ("Gate to live models", "Opened by two signatures on 1 July 2026."),
)


def certified(holder: str = "Ada Marsh", **changed: Any) -> Certified:
    facts = {
        "school": "Marram Lane Lash School",
        "town": "Marram",
        "holder": holder,
        "programme": "Classic and volume lashes, foundation",
        "programme_version": 3,
        "scope": SCOPE,
        "theory_minutes": 24 * 60,
        "practical_minutes": 62 * 60 + 30,
        "sets": 14,
        "first_set_on": date(2026, 2, 2),
        "last_set_on": date(2026, 8, 9),
        "educator": "Ines Carvalho",
        "rubric_versions": ("Starter rubric, version 1",),
        "parameter_version": 4,
        "skills": tuple(CertifiedSkill(row[0].lower(), *row) for row in SKILLS),
        "marks": (1, 2, 3),
        "conditions": tuple(CertifiedCondition(*row) for row in CONDITIONS),
        "gate_opened_on": date(2026, 7, 1),
        "awarded_at": AWARDED,
    }
    return Certified(**{**facts, **changed})


def printed_certificate(
    holder: str = "Ada Marsh", *, number: int = 41, code: str = CODE, content: Any = None, **row: Any
) -> Certificate:
    """Not saved; ``content`` of another ``Certified``, ``row``: other columns."""
    columns = {
        "valid_from": AWARDED,
        "valid_until": AWARDED.replace(year=2028),
        "issued_at": AWARDED,
        "token": "eyJhbGciOiJSUzI1NiJ9.eyJub3QiOiJzaWduZWQifQ.AAAA",
        "academy": Academy(name="Marram Lane Lash School", time_zone="Europe/London"),
    }
    return Certificate(
        holder_name=holder,
        number=number,
        code=code,
        content=content_of(content or certified(holder)),
        **{**columns, **row},
    )
