from secrets import randbits
from typing import Any
from uuid import UUID

from django.utils import timezone
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from academy.api.permissions import IsStaffHere, MemberApiRequest
from academy.errors import DomainError
from assessments.api.document import draft_document, marking_document, set_document
from assessments.scoring.entry import read_entry
from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.timing import EventKind
from assessments.selectors.marking import inspection_of, marking
from assessments.selectors.second_marks import set_to_read
from assessments.services.marking import Correction, DraftMovedOn, save_draft
from assessments.services.sets import BenchEvent, EventResult, apply_events

KINDS = [kind.value for kind in EventKind] + ["position"]


class EventSerializer(serializers.Serializer[Any]):
    """Measures pass as they came: the service has the better sentence for an impossible one."""

    uid = serializers.UUIDField()
    kind = serializers.ChoiceField(choices=KINDS)
    at = serializers.DateTimeField(required=False, allow_null=True, default=None)
    reason = serializers.CharField(required=False, allow_blank=True, max_length=500)
    eye = serializers.ChoiceField(choices=["left", "right", ""], required=False)
    layer = serializers.CharField(required=False, allow_blank=True, max_length=20)
    index = serializers.IntegerField(required=False, min_value=0, max_value=999)
    finding = serializers.CharField(required=False, max_length=6)
    faults = serializers.ListField(child=serializers.CharField(max_length=30), required=False, max_length=30)
    gap_mm = serializers.JSONField(required=False, allow_null=True)
    direction_deg = serializers.JSONField(required=False, allow_null=True)
    found_length_mm = serializers.JSONField(required=False, allow_null=True)


class EventsSerializer(serializers.Serializer[Any]):
    events = serializers.ListField(child=serializers.DictField(), allow_empty=False, max_length=500)


class CorrectionSerializer(serializers.Serializer[Any]):
    revision = serializers.IntegerField(min_value=1)
    why = serializers.CharField(max_length=1000, allow_blank=True, default="", trim_whitespace=False)


class DraftSerializer(serializers.Serializer[Any]):
    data = serializers.DictField()  # type: ignore[assignment]  # the member's name in the JSON
    base = serializers.DateTimeField(required=False, allow_null=True, default=None)
    correction = CorrectionSerializer(required=False, allow_null=True, default=None)


class SetView(APIView):
    permission_classes = [IsStaffHere]

    def get(self, request: MemberApiRequest, uid: UUID) -> Response:
        return Response(set_document(set_to_read(request.member, uid), now=timezone.now()))


class EventsView(APIView):
    """Each event stands alone: the answer says applied, repeated or refused for every one of them."""

    permission_classes = [IsStaffHere]

    def post(self, request: MemberApiRequest, uid: UUID) -> Response:
        sent = EventsSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        now = timezone.now()
        set_to_read(request.member, uid)
        results = apply_events(
            actor=request.member,
            uid=uid,
            events=[read_event(event) for event in sent.validated_data["events"]],
            seed=randbits(62),
            now=now,
        )
        document = set_document(set_to_read(request.member, uid), now=now)
        return Response({"results": [told(result) for result in results], "set": document})


class DraftView(APIView):
    permission_classes = [IsStaffHere]

    def put(self, request: MemberApiRequest, uid: UUID) -> Response:
        sent = DraftSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        here = set_to_read(request.member, uid)
        correction = sent.validated_data["correction"]
        try:
            entry = read_entry(sent.validated_data["data"])
            draft = save_draft(
                actor=request.member,
                uid=uid,
                entry=entry,
                base=sent.validated_data["base"],
                now=timezone.now(),
                correction=Correction(**correction) if correction else None,
            )
        except ScoringInputError as problem:
            raise DomainError(problem.code, problem.message, field=f"data/{problem.code}") from problem
        except DraftMovedOn as problem:
            return _moved_on(problem)
        inspection = inspection_of(here)
        return Response(draft_document(draft) | marking_document(marking(here, inspection, entry)))


def read_event(sent: dict[str, Any]) -> BenchEvent:
    """An event with a ``uid`` stands alone even when the rest of it cannot be read."""
    read = EventSerializer(data=sent)
    if read.is_valid():
        data = dict(read.validated_data)
        return BenchEvent(uid=data.pop("uid"), kind=data.pop("kind"), at=data.pop("at"), data=data)
    if "uid" in read.errors:
        raise serializers.ValidationError({"events": read.errors})
    uid = read.fields["uid"].run_validation(sent["uid"])
    return BenchEvent(uid=uid, kind="", unreadable=_unreadable(read.errors))


def _unreadable(errors: dict[str, Any]) -> str:
    name, said = next(iter(errors.items()))
    first = next(iter(said.values())) if isinstance(said, dict) else said
    return f"This entry cannot be read: {name}, {first[0]} Reload the page and enter it again."


def told(result: EventResult) -> dict[str, Any]:
    problem = result.problem
    shown = {"title": problem.code, "detail": problem.message} if problem else None
    return {"uid": str(result.uid), "status": result.status, "problem": shown}


def _moved_on(problem: DraftMovedOn) -> Response:
    body = {"type": "about:blank", "title": problem.code, "status": 409, "detail": problem.message}
    body["current"] = draft_document(problem.current)["draft"]
    return Response(body, status=409, content_type="application/problem+json")
