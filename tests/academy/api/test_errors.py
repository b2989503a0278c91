"""Problems are RFC 9457 documents that say what to do."""

import json

import pytest
from django.http import Http404
from rest_framework import exceptions

from academy.api.errors import problem, problem_response
from academy.errors import Conflict, Denied, DomainError, NotHere


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (NotHere("set"), 404),
        (Conflict("moved", "Look again."), 409),
        (Denied("not_yours", "Ask her."), 403),
        (DomainError("impossible", "Correct it."), 422),
    ],
)
def test_a_refusal_keeps_its_sentence_and_has_its_status(error, status):
    answer = problem(error, {})
    assert answer is not None and answer.status_code == answer.data["status"] == status
    assert (answer.data["type"], answer.data["title"]) == ("about:blank", error.code)
    assert answer.data["detail"] == error.message
    assert answer.content_type == "application/problem+json"
    early = problem_response(error)
    assert (early.status_code, json.loads(early.content)) == (status, answer.data)


def test_the_field_at_fault_is_pointed_at():
    answer = problem(DomainError("impossible", "Correct it.", field="left_count"), {})
    assert answer is not None
    assert answer.data["errors"] == [{"pointer": "#/left_count", "detail": "Correct it."}]


def test_every_wrong_value_is_pointed_at_however_deep():
    wrong = exceptions.ValidationError(
        {"events": {"0": {"kind": ["Unknown."]}}, "uid": ["Missing.", "Really."]}
    )
    answer = problem(wrong, {})
    assert answer is not None and answer.status_code == 400
    assert answer.data["errors"] == [
        {"pointer": "#/events/0/kind", "detail": "Unknown."},
        {"pointer": "#/uid", "detail": "Missing."},
        {"pointer": "#/uid", "detail": "Really."},
    ]


def test_what_the_framework_refuses_is_a_problem_too():
    answer = problem(exceptions.Throttled(wait=7), {})
    assert answer is not None and (answer.status_code, answer["Retry-After"]) == (429, "7")
    missing = problem(Http404(), {})
    assert missing is not None and (missing.status_code, missing.data["title"]) == (404, "not_here")


def test_a_fault_of_ours_is_not_a_problem_document():
    assert problem(ValueError("ours"), {}) is None
