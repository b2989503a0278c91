"""Students who may be certified, and certificates issued through the services."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from random import Random
from uuid import UUID

from academy.models import Academy, Membership
from assessments.models import Certificate, PublicKey
from assessments.scoring.certified import Certified, content_of
from assessments.services.certificates import issue_certificate
from assessments.services.signing_keys import make_signing_key, publish_keys
from courses.models import Enrolment, Programme, ProgrammeVersion
from courses.programme.content import CertificateRules, ProgrammeContent, Unit
from courses.services.enrolments import enrol
from courses.services.programmes import add_programme, change_programme_draft, publish_programme_version
from tests.factories.academy import JOINED, Cast
from tests.factories.assessments import STARTED, Bench, make_graded_set
from tests.factories.courses import make_brief, make_head
from tests.factories.rubrics import starter_rubric
from tests.factories.signing_keys import lend_key

SCOPE = "Classic and volume sets on mannequin heads."
ISSUED = STARTED + timedelta(days=20)  # 22 February 2026, 9:00 UTC
# The least a programme can ask: one graded set. The gate has tests of its own.
ONE_SET = CertificateRules(
    all_units=False, gate_open_once=False, graded_sets=1, scope=SCOPE, min_levels={"isolation": 2}
)


def make_programme(
    owner: Membership, *, name: str = "Lash foundation", rules: CertificateRules = ONE_SET
) -> ProgrammeVersion:
    """Published, with hours of 0."""
    draft = add_programme(academy=owner.academy, name=name, actor=owner, now=JOINED)
    content = ProgrammeContent(
        units=(Unit("Hygiene at the bench", "theory", before_live=True),),
        theory_hours=Decimal(0),
        practical_hours=Decimal(0),
        hours_source="Invented for a test",
        hours_source_on=date(2026, 1, 5),
        certificate=rules,
    )
    draft = change_programme_draft(version=draft, content=content, actor=owner, now=JOINED)
    return publish_programme_version(version=draft, actor=owner, now=JOINED)


def make_enrolment(student: Membership, owner: Membership, **programme: object) -> Enrolment:
    """On the academy's first programme, made if there is none."""
    known = Programme.objects.filter(academy=student.academy).first()
    published = known.versions.filter(published_at__isnull=False) if known else ()
    version = published[0] if published else make_programme(owner, **programme)  # type: ignore[arg-type]
    return enrol(student=student, version=version, actor=owner, now=JOINED)


def make_key(academy: Academy) -> PublicKey:
    """The academy's key, published: the one lent to tests, or its own when another academy has that."""
    if not PublicKey.objects.filter(academy=academy).exists():
        lend_key(academy.pk)
        publish_keys(academy=academy, now=JOINED)
    known = PublicKey.objects.filter(academy=academy).first()
    return known or make_signing_key(academy=academy, now=JOINED)


def make_ready(
    student: Membership, educator: Membership, *, head: str = "Head of the ready", at: datetime = STARTED
) -> Enrolment:
    """Enrolled, with one graded set; nothing is missing for a certificate."""
    make_key(student.academy)
    starter_rubric(student.academy, educator)
    brief = make_brief(student.academy, educator, name=f"Brief of {head}")
    make_graded_set(Bench(student, educator, brief, make_head(student.academy, head)), at=at)
    return make_enrolment(student, educator)


def make_certificate(
    student: Membership, educator: Membership, *, at: datetime = ISSUED, worked_at: datetime = STARTED
) -> Certificate:
    """Issued by ``educator`` for one graded set; the same student gets the same code."""
    make_ready(student, educator, head=f"Head of {student.name}", at=worked_at)
    return issue_certificate(student=student, actor=educator, now=at, chance=Random(student.pk))


def certified_ada(cast: Cast) -> Certificate:
    return make_certificate(cast.ada, cast.ines)


def put_certificate(enrolment: Enrolment, educator: Membership) -> Certificate:
    """A row for lists, past the services: it says next to nothing and bears no signature."""
    academy, before = educator.academy, Certificate.objects.filter(enrolment=enrolment).first()
    nth = Certificate.objects.count() + 1
    return Certificate.objects.create(
        academy=academy,
        student_id=enrolment.student_id,
        enrolment=enrolment,
        number=Certificate.objects.filter(academy=academy).count() + 1,
        code=f"{nth:012}",
        holder_name=enrolment.student.name,
        content=content_of(_bare(academy, enrolment)),
        valid_from=ISSUED,
        issued_by=educator,
        issued_at=ISSUED,
        replaces=before,
        subject_id=UUID(int=nth, version=4),
        token="unsigned",
        key_thumbprint="none",
        status_list=1,
        status_index=nth,
    )


def _bare(academy: Academy, enrolment: Enrolment) -> Certified:
    return Certified(
        school=academy.name,
        town=academy.town,
        holder=enrolment.student.name,
        programme="Lash foundation",
        programme_version=1,
        scope=SCOPE,
        theory_minutes=0,
        practical_minutes=240,
        sets=1,
        first_set_on=STARTED.date(),
        last_set_on=STARTED.date(),
        educator="Ines Carvalho",
        rubric_versions=(),
        parameter_version=None,
        skills=(),
        marks=(),
        conditions=(),
        gate_opened_on=None,
        awarded_at=ISSUED,
    )
