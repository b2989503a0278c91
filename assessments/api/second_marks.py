"""The second look for scripts: the shapes of ``api.sets``, for the one person who marks blind."""

from typing import Any
from uuid import UUID

from django.utils import timezone
from rest_framework.response import Response
from rest_framework.views import APIView

from academy.api.permissions import IsStaffHere, MemberApiRequest
from academy.errors import DomainError
from assessments.api.document import marking_document, second_document, second_draft
from assessments.api.sets import DraftSerializer, EventsSerializer, read_event, told
from assessments.scoring.entry import read_entry
from assessments.scoring.evidence import ScoringInputError
from assessments.selectors.second_marks import own_second_mark, second_marking
from assessments.services.second_marks import apply_second_events, save_second_draft


class SecondMarkView(APIView):
    permission_classes = [IsStaffHere]

    def get(self, request: MemberApiRequest, uid: UUID) -> Response:
        return Response(_document(request, uid))


class SecondEventsView(APIView):
    """Each event stands alone: the answer says applied, repeated or refused for every one of them."""

    permission_classes = [IsStaffHere]

    def post(self, request: MemberApiRequest, uid: UUID) -> Response:
        sent = EventsSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        events = [read_event(event) for event in sent.validated_data["events"]]
        results = apply_second_events(actor=request.member, uid=uid, events=events, now=timezone.now())
        return Response({"results": [told(result) for result in results], "set": _document(request, uid)})


class SecondDraftView(APIView):
    permission_classes = [IsStaffHere]

    def put(self, request: MemberApiRequest, uid: UUID) -> Response:
        sent = DraftSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        try:
            entry = read_entry(sent.validated_data["data"])
        except ScoringInputError as problem:
            raise DomainError(problem.code, problem.message, field=f"data/{problem.code}") from problem
        saved = save_second_draft(actor=request.member, uid=uid, entry=entry, now=timezone.now())
        return Response(second_draft(saved) | marking_document(second_marking(saved, entry)))


def _document(request: MemberApiRequest, uid: UUID) -> dict[str, Any]:
    return second_document(own_second_mark(request.member, uid), now=timezone.now())
