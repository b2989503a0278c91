"""Problems as RFC 9457 documents."""

from typing import Any

from django.http import Http404, JsonResponse
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import exception_handler

from academy.errors import Conflict, Denied, DomainError, NotHere

MEDIA_TYPE = "application/problem+json"
STATUS: tuple[tuple[type[DomainError], int], ...] = (
    (NotHere, 404),
    (Conflict, 409),
    (Denied, 403),
    (DomainError, 422),
)


def problem(exception: Exception, context: dict[str, Any]) -> Response | None:
    if isinstance(exception, DomainError):
        return _document(_status(exception), exception.code, exception.message, _pointers(exception))
    response = exception_handler(exception, context)
    if response is None:
        return None
    if isinstance(exception, exceptions.ValidationError):
        errors = [{"pointer": f"#/{field}", "detail": str(text)} for field, text in _flat(exception.detail)]
        return _document(400, "bad_request", "Some of what was sent cannot be used. See errors.", errors)
    code = "not_here" if isinstance(exception, Http404) else getattr(exception, "default_code", "refused")
    answer = _document(response.status_code, code, str(getattr(exception, "detail", exception)), [])
    for header in ("Retry-After", "WWW-Authenticate", "Allow"):
        if header in response:
            answer[header] = response[header]
    return answer


def problem_response(error: DomainError) -> JsonResponse:
    """The same document for the doors before a view, which have no renderer yet."""
    status = _status(error)
    body = _body(status, error.code, error.message, _pointers(error))
    return JsonResponse(body, status=status, content_type=MEDIA_TYPE)


def _document(status: int, code: str, detail: str, errors: list[dict[str, str]]) -> Response:
    return Response(_body(status, code, detail, errors), status=status, content_type=MEDIA_TYPE)


def _body(status: int, code: str, detail: str, errors: list[dict[str, str]]) -> dict[str, object]:
    body: dict[str, object] = {"type": "about:blank", "title": code, "status": status, "detail": detail}
    return {**body, "errors": errors} if errors else body


def _status(error: DomainError) -> int:
    return next(status for kind, status in STATUS if isinstance(error, kind))


def _pointers(error: DomainError) -> list[dict[str, str]]:
    field = error.details.get("field")
    return [{"pointer": f"#/{field}", "detail": error.message}] if field else []


def _flat(detail: Any, path: str = "") -> list[tuple[str, object]]:
    if isinstance(detail, dict):
        return [item for key, value in detail.items() for item in _flat(value, f"{path}/{key}".lstrip("/"))]
    if isinstance(detail, list):
        return [item for value in detail for item in _flat(value, path)]
    return [(path, detail)]
