"""The certificates of a cohort in one file: asked for, waited for, fetched."""

from datetime import datetime
from uuid import UUID

from django.http import FileResponse, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import MemberRequest, for_staff
from academy.errors import DomainError, NotHere
from academy.forms import show_refusal
from academy.selectors.people import cohort
from assessments.forms.certificate_batches import BatchForm
from assessments.models import CertificateBatch
from assessments.selectors.certificate_batches import (
    certificate_batch,
    certificate_batches,
    cohorts_to_print,
    refuse_blind,
)
from assessments.services.certificate_batches import ask_for_batch

READ_OR_WRITE = ["GET", "HEAD", "POST"]
SHOWN = 12
FAILED = "The file could not be written. Ask for it again; if that fails too, tell whoever runs the system."
MEDIA_TYPES = {"pdf": "application/pdf", "zip": "application/zip"}


@require_http_methods(READ_OR_WRITE)
@for_staff
def batch_list(request: MemberRequest) -> HttpResponse:
    """The files asked for, and the form to ask for one."""
    academy, now = request.member.academy, timezone.now()
    form = BatchForm(request.POST or None, cohorts=cohorts_to_print(academy, at=now))
    if request.method == "POST" and form.is_valid():
        chosen = cohort(academy, form.cleaned_data["cohort"])
        try:
            batch = ask_for_batch(
                cohort=chosen, kind=form.cleaned_data["kind"], actor=request.member, now=now
            )
        except DomainError as refused:
            show_refusal(form, refused)
        else:
            return redirect("assessments:certificate-batch", batch.uid)
    rows = [(row, *_standing(row, now)) for row in certificate_batches(academy)[:SHOWN]]
    return render(request, "assessments/certificate_batches.html", {"form": form, "rows": rows})


@require_safe
@for_staff
def batch(request: MemberRequest, uid: UUID) -> HttpResponse:
    """How far the file is; the same as JSON for the page's script."""
    row, now = certificate_batch(request.member.academy, uid), timezone.now()
    state, words = _standing(row, now)
    if request.get_preferred_type(["text/html", "application/json"]) == "application/json":
        answer: HttpResponse = JsonResponse({"state": state, "words": words, "done": row.done})
    else:
        context = {"batch": row, "state": state, "words": words}
        answer = render(request, "assessments/certificate_batch.html", context)
    patch_vary_headers(answer, ["Accept"])
    return answer


@require_safe
@for_staff
def batch_file(request: MemberRequest, uid: UUID) -> HttpResponseBase:
    row = certificate_batch(request.member.academy, uid)
    if not row.is_ready(timezone.now()):
        raise NotHere("file of certificates")
    refuse_blind(request.member, row.cohort, until=row.asked_at)
    return FileResponse(
        row.file.open("rb"),
        as_attachment=True,
        filename=f"Certificates of {row.cohort.name}.{row.kind}",
        content_type=MEDIA_TYPES[row.kind],
    )


def _standing(row: CertificateBatch, now: datetime) -> tuple[str, str]:
    """One word for the page, and a sentence for people."""
    if row.is_ready(now):
        until = timezone.localtime(row.kept_until)
        return "ready", f"The file is ready. It is kept until {until:%H:%M} on {until.day} {until:%B %Y}."
    if row.is_gone(now):
        return "gone", "The file has been removed. Ask for it again if you need it."
    if not row.is_under_way(now):
        return "failed", FAILED
    if row.done < row.total:
        return "working", f"{row.done} of {row.total} certificates are drawn."
    return "working", f"All {row.total} certificates are drawn and are being put into the file."
