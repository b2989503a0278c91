"""Needs and the rota below: a place booked for a need, and the plan that serves all of them."""

from datetime import datetime, timedelta

from django.db import transaction

from academy.errors import Conflict
from academy.jobs import enqueue
from academy.models import Academy, Membership
from assessments.models import Need, NeedBooking
from assessments.selectors.needs import is_served, planning_needs
from courses.models import Booking, ProposalLine, RotaProposal
from courses.selectors.planning import open_lines
from courses.services.booking_checks import Place
from courses.services.bookings import book
from courses.services.plan_lines import (
    Accepted,
    LineDecided,
    OthersFirst,
    PlanNotOpen,
    accept_line,
    accept_swap,
)
from courses.services.planning import compute_proposal, open_proposal


class NeedIsClosed(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "need_is_closed", "This need has been answered meanwhile. Book without it, or look again."
        )


@transaction.atomic
def book_for_need(
    *, need: Need, place: Place, actor: Membership, live_allowed: bool, now: datetime
) -> Booking:
    """Books a place that fits the need: its student and its skill."""
    _take_turn(need.student_id)
    if Need.objects.get(pk=need.pk).closed_at is not None:
        raise NeedIsClosed
    booking = book(place=place, actor=actor, live_allowed=live_allowed, now=now)
    NeedBooking.objects.create(need=need, booking=booking)
    return booking


def ask_for_plan(
    *, academy: Academy, weeks: int, time_limit_s: int, actor: Membership, now: datetime
) -> RotaProposal:
    """From today on; computed in the background."""
    first_on = academy.date_of(now)
    last_on = first_on + timedelta(days=7 * weeks - 1)
    with transaction.atomic():
        found = open_proposal(
            academy=academy,
            first_on=first_on,
            last_on=last_on,
            time_limit_s=time_limit_s,
            actor=actor,
            now=now,
        )
        enqueue("assessments.tasks.compute_plan", proposal_id=found.pk)
    return found


def compute_plan(*, proposal: RotaProposal, now: datetime) -> None:
    """Gather every open need and have the floor below place them."""
    asked = planning_needs(proposal.academy, first_on=proposal.first_on, last_on=proposal.last_on, now=now)
    compute_proposal(proposal=proposal, asked=asked, now=now)


@transaction.atomic
def accept_plan_line(*, line: ProposalLine, actor: Membership, now: datetime) -> Accepted:
    """A place made for a need stays with it."""
    _take_turn(line.student_id)
    need = Need.objects.filter(pk=line.need or 0).first()
    is_wanted = need is not None and need.closed_at is None and not is_served(need, now)
    done = accept_line(line=line, is_wanted=is_wanted, actor=actor, live_allowed=False, now=now)
    if need and done.booking and line.change == ProposalLine.Change.NEW:
        NeedBooking.objects.create(need=need, booking=done.booking)
    return done


def accept_plan(*, proposal: RotaProposal, actor: Membership, now: datetime) -> list[Accepted]:
    """Every line still to decide, each by itself, in an order in which places are free when they are taken;
    bookings that take each other's places go together."""
    done: list[Accepted] = []
    left = list(open_lines(proposal))
    while left:
        waiting = []
        for line in left:
            try:
                done.append(accept_plan_line(line=line, actor=actor, now=now))
            except OthersFirst:
                waiting.append(line)
            except (LineDecided, PlanNotOpen):
                continue  # somebody else was quicker
        if len(waiting) == len(left):
            moves = [line for line in waiting if line.change == ProposalLine.Change.MOVED]
            swapped = accept_swap(lines=moves, actor=actor, live_allowed=False, now=now)
            done += swapped
            waiting = [line for line in waiting if swapped and line not in moves]
        left = waiting
    return done


def _take_turn(student_id: int) -> None:
    """Needs of one student change one after another: marks that close one lock the same row.

    Without its key, so that whoever books for her meanwhile need not wait: she would hold the academy's turn.
    """
    Membership.objects.select_for_update(no_key=True).get(pk=student_id)
