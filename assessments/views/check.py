"""The check page: anybody may ask whether a certificate is genuine and current. No account, no script."""

from http import HTTPStatus
from typing import Any

from django.core.exceptions import SuspiciousOperation
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.multipartparser import MultiPartParserError
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_http_methods, require_safe

from academy.access import for_anyone, limited
from assessments.credentials.code import normalise
from assessments.credentials.uploads import LARGEST_UPLOAD
from assessments.selectors import certificate_checks as checks
from assessments.selectors.certificate_checks import Check, Word

HTML, JSON, TEXT = "text/html", "application/json", "text/plain"
ENVELOPE = 65_536  # bytes a form needs around the file
STATUS = {
    Word.UNKNOWN: HTTPStatus.NOT_FOUND,
    Word.NOT_GENUINE: HTTPStatus.UNPROCESSABLE_ENTITY,
    Word.NOT_READABLE: HTTPStatus.UNPROCESSABLE_ENTITY,
}
TOO_LARGE = f"This file is larger than {LARGEST_UPLOAD >> 20} MB, so it was not read. Hand in a smaller one."
BROKEN = "This did not arrive as a whole file. Choose it again and send it once more."
NO_FILE = "Choose the certificate's file first: .jwt, PNG or PDF."
NOT_A_CODE = (
    "This is not a code: it has 12 letters and digits, in three groups. Look again at the certificate."
)
KEPT_PRIVATE = "The holder has not opened the signed certificate to everybody. Ask for the file itself.\n"


@require_safe
@for_anyone
def check(request: HttpRequest) -> HttpResponse:
    """The form; a code that was typed leads to its own address."""
    typed = request.GET.get("code", "").strip()
    code = normalise(typed)
    if code:
        return redirect("assessments:check-code", code)
    return _form(request, typed=typed[:60], code_problem=NOT_A_CODE if typed else "")


@require_safe
@for_anyone
@limited("check_certificate", limit_get=True)
def check_code(request: HttpRequest, code: str) -> HttpResponse:
    """A page for people, the state as JSON for programs, or the signed certificate as text."""
    found = checks.check_code(code, at=timezone.now())
    return _answer(request, found, typed="" if found.is_known else code)


@require_http_methods(["GET", "HEAD", "POST"])
@for_anyone
@limited("check_certificate_file")
def check_file(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        return _form(request)
    if int(request.META.get("CONTENT_LENGTH") or 0) > LARGEST_UPLOAD + ENVELOPE:
        return _answer(
            request, Check(Word.NOT_READABLE, TOO_LARGE), status=HTTPStatus.REQUEST_ENTITY_TOO_LARGE
        )
    try:
        upload = request.FILES.get("file")
    except (MultiPartParserError, SuspiciousOperation):
        return _answer(request, Check(Word.NOT_READABLE, BROKEN))
    if not isinstance(upload, UploadedFile):
        return _form(request, file_problem=NO_FILE)
    return _answer(request, checks.check_file(upload.read(LARGEST_UPLOAD + 1), at=timezone.now()))


def _form(request: HttpRequest, **context: str) -> HttpResponse:
    return _unlisted(render(request, "assessments/check.html", context))


def _answer(
    request: HttpRequest, found: Check, *, status: HTTPStatus | None = None, typed: str = ""
) -> HttpResponse:
    code = status or (HTTPStatus.OK if found.is_known else STATUS[Word(found.word)])
    wanted = request.get_preferred_type([HTML, JSON, TEXT]) or HTML
    if wanted == JSON:
        response: HttpResponse = JsonResponse(_told(found), status=code)
        response["Access-Control-Allow-Origin"] = "*"
    elif wanted == TEXT:
        response = _token(found, code)
    else:
        context = {"check": found, "typed": typed}
        response = render(request, "assessments/check_answer.html", context, status=code)
    patch_vary_headers(response, ["Accept"])
    return _unlisted(response)


def _token(found: Check, status: HTTPStatus) -> HttpResponse:
    """The signed certificate holds the marks, so it is handed out only where the holder shows them."""
    if found.certificate is None:
        return HttpResponse(f"{found.word}\n", status=status, content_type="text/plain; charset=utf-8")
    if not found.shows_marks:
        return HttpResponse(KEPT_PRIVATE, status=403, content_type="text/plain; charset=utf-8")
    return HttpResponse(found.certificate.token, content_type="text/plain; charset=utf-8")


def _told(found: Check) -> dict[str, Any]:
    told: dict[str, Any] = {"state": found.word, "words": found.sentence}
    if found.shown is None:
        return told
    shown = found.shown
    told |= {
        "certificate": shown.url,
        "holder": shown.holder,
        "school": shown.school,
        "programme": shown.programme,
        "valid_from": shown.valid_from.isoformat(),
        "valid_until": shown.valid_until.isoformat() if shown.valid_until else None,
        "since": found.since.isoformat() if found.since else None,
    }
    if found.shows_marks:
        told["levels"] = {each.skill: each.level for each in shown.levels}
    return told


def _unlisted(response: HttpResponse) -> HttpResponse:
    """Search engines stay out: a certificate names a person."""
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response
