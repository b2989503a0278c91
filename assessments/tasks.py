"""Background work of this floor: fetch by key, do one thing, be harmless when repeated."""

from datetime import datetime
from smtplib import SMTPException

from celery import shared_task
from django.utils import timezone

from academy.jobs import enqueue
from academy.models import Academy, Membership
from assessments.models import CertificateBatch
from assessments.services import (
    agreement,
    certificate_batches,
    competence,
    feedback,
    gate,
    needs,
    parameters,
    retraining,
)
from courses.models import RotaProposal

AGREEMENT_SEED = 7  # of the bootstrap: the same marks give the same intervals
REFIT_SEED = 11  # of the sample: the same marks give the same parameters


@shared_task(autoretry_for=(SMTPException, OSError), retry_backoff=30, retry_backoff_max=1800, max_retries=6)
def send_feedback(*, grade_id: int) -> None:
    """Tell the student by e-mail that the marks of a set are signed, once for each revision."""
    feedback.send_feedback(grade_id=grade_id, now=timezone.now())


@shared_task
def refresh_competence(*, academy_id: int) -> None:
    """Decide afresh for every student after the academy has changed a rule."""
    competence.refresh_academy(academy=Academy.objects.get(pk=academy_id), now=timezone.now())


@shared_task
def compute_agreement(*, academy_id: int, until: str = "") -> None:
    """Keep a new agreement report; ``until``: the instant (ISO 8601) up to which marks count, now without."""
    now = timezone.now()
    agreement.compute_agreement(
        academy=Academy.objects.get(pk=academy_id),
        until=datetime.fromisoformat(until) if until else now,
        seed=AGREEMENT_SEED,
        now=now,
    )


@shared_task
def refit_parameters(*, academy_id: int) -> None:
    """Fit the skill model of one academy to its marks; the same marks leave everything as it is."""
    academy = Academy.objects.get(pk=academy_id)
    parameters.refit_parameters(academy=academy, seed=REFIT_SEED, now=timezone.now())


@shared_task
def refit_all() -> None:
    """Every night: a task for each academy, so that one that fails holds up no other."""
    for academy_id in Academy.objects.order_by("pk").values_list("pk", flat=True):
        enqueue("assessments.tasks.refit_parameters", academy_id=academy_id)


@shared_task
def watch_gate(*, student_id: int) -> None:
    """See where one student's gate stands after a consent, hours or sign-offs have changed."""
    student = Membership.objects.select_related("academy", "user").get(pk=student_id)
    gate.watch_gate(student=student, now=timezone.now())


@shared_task
def record_lapses(*, academy_id: int) -> None:
    """Write down which gates of one academy have closed by themselves; they are shut in any case."""
    gate.record_lapses(academy=Academy.objects.get(pk=academy_id), now=timezone.now())


@shared_task
def record_all_lapses() -> None:
    """Every night: a task for each academy, so that one that fails holds up no other."""
    for academy_id in Academy.objects.order_by("pk").values_list("pk", flat=True):
        enqueue("assessments.tasks.record_lapses", academy_id=academy_id)


@shared_task
def refresh_needs(*, academy_id: int) -> None:
    """Raise what time alone raises for every student of one academy: long breaks, retests, fading skills."""
    needs.refresh_academy_needs(academy=Academy.objects.get(pk=academy_id), now=timezone.now())


@shared_task
def refresh_all_needs() -> None:
    """Every night: a task for each academy, so that one that fails holds up no other."""
    for academy_id in Academy.objects.order_by("pk").values_list("pk", flat=True):
        enqueue("assessments.tasks.refresh_needs", academy_id=academy_id)


@shared_task
def compute_plan(*, proposal_id: int) -> None:
    """Compute a plan of the rota; one that is computed stays as it is."""
    proposal = RotaProposal.objects.select_related("academy").get(pk=proposal_id)
    retraining.compute_plan(proposal=proposal, now=timezone.now())


@shared_task
def write_certificate_batch(*, batch_id: int) -> None:
    """Put the certificates of a cohort into their file; one that is written stays as it is."""
    batch = CertificateBatch.objects.select_related("academy", "cohort__academy").get(pk=batch_id)
    certificate_batches.write_batch(batch=batch, now=timezone.now())


@shared_task
def remove_old_certificate_batches() -> None:
    """Every night: take away the files whose days are over."""
    certificate_batches.remove_old_batches(now=timezone.now())
