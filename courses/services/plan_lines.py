"""The lines of a proposed plan: accepted or refused one by one, and never over what has changed since."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from academy.errors import Conflict, DomainError
from academy.models import Membership
from academy.services.audit import record
from courses.models import Booking, Drill, ProposalLine, RotaProposal, Skill
from courses.selectors.bookings import HOLDING
from courses.selectors.heads import heads
from courses.selectors.planning import instant, open_lines
from courses.selectors.rota import benches, educators, session_kinds
from courses.services.booking_checks import Place
from courses.services.bookings import cancel_booking, move_booking, propose_booking
from courses.services.claims import release_place

State, Change, LineState = RotaProposal.State, ProposalLine.Change, ProposalLine.State
REASON = "A new plan of the rota"
NEVER = -1  # no booking has this sequence


class PlanNotOpen(Conflict):
    def __init__(self) -> None:
        super().__init__("plan_not_open", "This plan is not open for decisions. Ask for a new one.")


class LineDecided(Conflict):
    def __init__(self) -> None:
        super().__init__("line_decided", "This line has been decided already. Reload the page.")


class OthersFirst(Conflict):
    """``lines``: positions of those that must make way."""

    def __init__(self, lines: list[int]) -> None:
        named = ", ".join(str(each + 1) for each in lines)
        super().__init__(
            "others_first", f"Another booking must make way first. Accept line {named} before this one."
        )


class BookingGone(Conflict):
    def __init__(self) -> None:
        super().__init__("booking_gone", "The booking no longer holds its place.")


class PlaceGone(Conflict):
    def __init__(self) -> None:
        super().__init__("place_gone", "The educator, bench, head or kind of session is no longer in use.")


@dataclass(frozen=True, slots=True)
class Accepted:
    """What became of a line; ``booking``: made, moved or cancelled, None when it was overtaken."""

    line: ProposalLine
    booking: Booking | None


@transaction.atomic
def accept_line(
    *, line: ProposalLine, is_wanted: bool, actor: Membership, live_allowed: bool, now: datetime
) -> Accepted:
    """Do what one line proposes, unless what it rests on has changed: then it says so and nothing changes.

    ``is_wanted``: that the need of a new line is still open and without a place.
    """
    line = _locked(line)
    _let_others_go_first(line)
    if line.change == Change.NEW and not is_wanted:
        return _overtaken(line, "The need has been answered or booked meanwhile.")
    try:
        with transaction.atomic():
            booking = _DOES[Change(line.change)](line, actor, live_allowed, now)
    except DomainError as error:
        return _overtaken(line, error.message)
    return _done(line, booking)


@transaction.atomic
def accept_swap(
    *, lines: Sequence[ProposalLine], actor: Membership, live_allowed: bool, now: datetime
) -> list[Accepted]:
    """Moves of bookings into each other's places: all of them, or none and they stay to decide."""
    try:
        with transaction.atomic():
            found = [_locked(line) for line in lines]
            for line in found:
                release_place(_standing(line))
            return [_done(line, _move(line, actor, live_allowed, now)) for line in found]
    except DomainError:
        return []


@transaction.atomic
def refuse_line(*, line: ProposalLine, actor: Membership, now: datetime) -> ProposalLine:
    line = _locked(line)
    line.state = LineState.REFUSED
    line.save(update_fields=["state"])
    record(actor, "refuse_line", line, now=now)
    _close_when_decided(line.proposal)
    return line


def _locked(line: ProposalLine) -> ProposalLine:
    proposal = RotaProposal.objects.select_for_update().get(pk=line.proposal_id)
    found = ProposalLine.objects.select_related("student__academy", "student__user", "booking").get(
        pk=line.pk
    )
    found.proposal = proposal
    if proposal.state != State.READY:
        raise PlanNotOpen
    if found.state != LineState.OPEN or found.change in {Change.UNCHANGED, Change.UNPLACED}:
        raise LineDecided
    return found


def _done(line: ProposalLine, booking: Booking) -> Accepted:
    line.state = LineState.ACCEPTED
    line.save(update_fields=["state"])
    _close_when_decided(line.proposal)
    return Accepted(line, booking)


def _let_others_go_first(line: ProposalLine) -> None:
    """Those in the way that are still to decide; one that is refused stays, and the place is taken."""
    waiting = open_lines(line.proposal).filter(booking__in=line.content.get("after", []))
    if positions := list(waiting.order_by("position").values_list("position", flat=True)):
        raise OthersFirst(positions)


def _overtaken(line: ProposalLine, why: str) -> Accepted:
    line.state = LineState.OVERTAKEN
    line.content = {**line.content, "overtaken": why}
    line.save(update_fields=["state", "content"])
    _close_when_decided(line.proposal)
    return Accepted(line, None)


def _close_when_decided(proposal: RotaProposal) -> None:
    if not open_lines(proposal).exists():
        RotaProposal.objects.filter(pk=proposal.pk).update(state=State.CLOSED)


def _propose(line: ProposalLine, actor: Membership, live_allowed: bool, now: datetime) -> Booking:
    return propose_booking(place=_place(line), actor=actor, live_allowed=live_allowed, now=now)


def _move(line: ProposalLine, actor: Membership, live_allowed: bool, now: datetime) -> Booking:
    return move_booking(
        booking=_standing(line),
        place=_place(line),
        actor=actor,
        seen=NEVER if line.basis is None else line.basis,
        live_allowed=live_allowed,
        now=now,
        reason=REASON,
    )


def _cancel(line: ProposalLine, actor: Membership, live_allowed: bool, now: datetime) -> Booking:
    return cancel_booking(
        booking=_standing(line),
        actor=actor,
        seen=NEVER if line.basis is None else line.basis,
        reason=REASON,
        now=now,
    )


_DOES = {Change.NEW: _propose, Change.MOVED: _move, Change.CANCELLED: _cancel}


def _standing(line: ProposalLine) -> Booking:
    booking = line.booking
    if booking is None or booking.state not in HOLDING:
        raise BookingGone
    return booking


def _place(line: ProposalLine) -> Place:
    """The rows that the line names, as long as they are in use."""
    told, academy = line.content, line.student.academy
    educator = educators(academy).filter(pk=told["educator"]).select_related("academy").first()
    bench = benches(academy).filter(pk=told["bench"]).first()
    kind = session_kinds(academy).filter(pk=told["kind"]).first()
    head = heads(academy).filter(pk=told["head"]).first() if told["head"] else None
    if educator is None or bench is None or kind is None or bool(head) != bool(told["head"]):
        raise PlaceGone
    return Place(
        student=line.student,
        educator=educator,
        bench=bench,
        kind=kind,
        starts_at=instant(told["starts"]),
        head=head,
        skill=Skill.objects.get(pk=told["skill"]),
        drill=Drill.objects.get(pk=told["drill"]) if told["drill"] else None,
    )
