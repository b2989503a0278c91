"""Problems as RFC 9457 documents."""

from typing import Any

from django.http import Http404
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import exception_handler

from academy.errors import Conflict, Denied, DomainError, NotHere

STATUS: tuple[tuple[type[DomainError], int], ...] = (
    (NotHere, 404),
    (Conflict, 409),
    (Denied, 403),
    (DomainError, 422),
)


def problem(exception: Exception, context: dict[str, Any]) -> Response | None:
    if isinstance(exception, DomainError):
        status = next(status for kind, status in STATUS if isinstance(exception, kind))
        return _document(status, exception.code, exception.message, _pointers(exception.details))
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


def _document(status: int, code: str, detail: str, errors: list[dict[str, str]]) -> Response:
    body: dict[str, object] = {"type": "about:blank", "title": code, "status": status, "detail": detail}
    if errors:
        body["errors"] = errors
    return Response(body, status=status, content_type="application/problem+json")


def _pointers(details: dict[str, object]) -> list[dict[str, str]]:
    return [{"pointer": f"#/{details['field']}", "detail": ""}] if "field" in details else []


def _flat(detail: Any, path: str = "") -> list[tuple[str, object]]:
    if isinstance(detail, dict):
        return [item for key, value in detail.items() for item in _flat(value, f"{path}/{key}".lstrip("/"))]
    if isinstance(detail, list):
        return [item for value in detail for item in _flat(value, path)]
    return [(path, detail)]
