"""Plans of the rota: asked for, computed in the background, and kept as a proposal that changes nothing."""

import logging
from collections.abc import Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import asdict
from datetime import date, datetime, timedelta
from time import perf_counter
from typing import Any
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from academy.errors import Conflict
from academy.models import Academy, Membership
from academy.services.audit import record
from courses.models import ProposalLine, RotaProposal
from courses.planning.difference import Line, difference
from courses.planning.explain import reasons, unplaced
from courses.planning.problem import Place as PlanPlace
from courses.planning.problem import Plan, Problem, ProblemError
from courses.planning.sentences import Say
from courses.planning.solver import solve
from courses.selectors.planning import Asked, Gathered, gather, instant

State, Change = RotaProposal.State, ProposalLine.Change
UNDER_WAY = (State.QUEUED, State.COMPUTING)
GRACE = timedelta(minutes=6)  # beyond its time limit; a worker is stopped after five minutes
TOLD_EVERY_S = 1.0
CUT_SHORT = "The computation was cut short, and nothing was changed. Ask for the plan again."
WENT_WRONG = (
    "The plan could not be computed, and nothing was changed. Ask again; if it fails again, tell whoever "
    "runs the system."
)

log = logging.getLogger(__name__)


class PlanUnderWay(Conflict):
    def __init__(self) -> None:
        super().__init__(
            "plan_under_way", "A plan is being computed already. Wait for it, then ask for the next one."
        )


@transaction.atomic
def open_proposal(
    *, academy: Academy, first_on: date, last_on: date, time_limit_s: int, actor: Membership, now: datetime
) -> RotaProposal:
    """Queued. One that was cut short makes room; another that is under way refuses."""
    fail_cut_short(academy=academy, now=now)
    count = RotaProposal.objects.filter(academy=academy).count()
    try:
        with transaction.atomic():
            found = RotaProposal.objects.create(
                academy=academy,
                first_on=first_on,
                last_on=last_on,
                time_limit_s=time_limit_s,
                seed=count + 1,
                made_by=actor,
                made_at=now,
            )
    except IntegrityError as error:
        raise PlanUnderWay from error
    record(actor, "ask_for_plan", found, now=now)
    return found


def is_cut_short(proposal: RotaProposal, now: datetime) -> bool:
    """Under way for longer than it can be: whoever computed it is gone."""
    limit = timedelta(seconds=proposal.time_limit_s) + GRACE
    return proposal.state in UNDER_WAY and now > proposal.made_at + limit


def fail_cut_short(*, academy: Academy, now: datetime) -> None:
    for each in RotaProposal.objects.filter(academy=academy, state__in=UNDER_WAY):
        if is_cut_short(each, now):
            _fail(each, CUT_SHORT)


def compute_proposal(*, proposal: RotaProposal, asked: Sequence[Asked], now: datetime) -> None:
    """Compute and keep the plan: all of it or nothing, however the process ends.

    Not one transaction: how far it is can be read meanwhile. One that a dead worker left computing is taken
    over; of two that compute the same proposal the first to finish is kept.
    """
    if not _rows(proposal).filter(state__in=UNDER_WAY).update(state=State.COMPUTING, progress=0):
        return
    try:
        gathered = gather(proposal.academy, asked, proposal.first_on, proposal.last_on, now=now)
        plan = _solved(proposal, gathered.problem)
        _keep(proposal, asked, gathered, plan, now)
    except ProblemError as error:
        _fail(proposal, error.message)
    except Exception:
        _fail(proposal, WENT_WRONG)
        raise


def _solved(proposal: RotaProposal, problem: Problem) -> Plan:
    """The solver works in a thread of its own; this one tells how far it is."""
    began = perf_counter()
    with ThreadPoolExecutor(1) as pool:
        future: Future[Plan] = pool.submit(
            solve, problem, time_limit_s=proposal.time_limit_s, seed=proposal.seed, workers=2
        )
        while not wait([future], timeout=TOLD_EVERY_S).done:
            share = (perf_counter() - began) / proposal.time_limit_s
            _rows(proposal).update(progress=min(95, round(100 * share)))
        return future.result()


def _keep(
    proposal: RotaProposal, asked: Sequence[Asked], gathered: Gathered, plan: Plan, now: datetime
) -> None:
    rows = _lines(proposal, asked, gathered, plan)
    with transaction.atomic():
        found = RotaProposal.objects.select_for_update().get(pk=proposal.pk)
        if found.state != State.COMPUTING:
            log.info("Plan %s was computed twice; the first stays", found.uid)
            return
        ProposalLine.objects.bulk_create(rows)
        found.state, found.progress, found.gap, found.ready_at = State.READY, 100, plan.gap, now
        found.words = _summary(gathered, plan)
        found.problem = {"asked": [asdict(each) | {"due_on": each.due_on.isoformat()} for each in asked]}
        found.save(update_fields=["state", "progress", "gap", "ready_at", "words", "problem"])


def _lines(
    proposal: RotaProposal, asked: Sequence[Asked], gathered: Gathered, plan: Plan
) -> list[ProposalLine]:
    """What changes and what stays, in order of time; then what has no place."""
    say = _say(ZoneInfo(proposal.academy.time_zone))
    problem, by_need = gathered.problem, {str(each.need): each for each in asked}
    why = {each.place: list(each.sentences) for each in reasons(problem, plan, say)}
    rows = [
        _line(each, by_need, gathered, why.get(each.place, []) if each.place else [])
        for each in difference(problem, plan, say)
    ]
    for left in unplaced(problem, plan, say):
        need = by_need[left.need]
        remedies = [each.sentence for each in left.remedies]
        rows.append(
            ProposalLine(
                change=Change.UNPLACED,
                student_id=need.student,
                need=need.need,
                content={"remedies": remedies, "skill": need.skill},
                words=left.sentence,
            )
        )
    for position, row in enumerate(rows):
        row.proposal, row.position = proposal, position
    return rows


def _line(line: Line, by_need: Mapping[str, Asked], gathered: Gathered, why: Sequence[str]) -> ProposalLine:
    booking = gathered.bookings[line.booked.code] if line.booked else None
    need = by_need.get(line.need or "")
    content: dict[str, Any] = {"changed": list(line.changed), "reasons": list(why)}
    content["after"] = [int(code) for code in line.after]
    if line.booked:
        content["was"] = [line.booked.span.start, line.booked.span.end]
    if line.place and need:
        content |= _place_of(line.place, need)
    return ProposalLine(
        change=line.change,
        student_id=int(line.student),
        need=need.need if need else None,
        booking=booking,
        basis=booking.sequence if booking else None,
        content=content,
        words=line.sentence,
    )


def _place_of(place: PlanPlace, need: Asked) -> dict[str, Any]:
    return {
        "starts": place.span.start,
        "ends": place.span.end,
        "educator": int(place.educator),
        "bench": int(place.bench),
        "head": int(place.head) if place.head else None,
        "kind": need.kind,
        "skill": need.skill,
        "drill": need.drill,
    }


def _summary(gathered: Gathered, plan: Plan) -> str:
    proven = "No better plan exists." if plan.is_proven else f"At most {plan.gap:.1%} could still be gained."
    untold = ""
    if gathered.untold:
        untold = (
            f" Taken to be free whenever the academy is open, because they have entered no free times: "
            f"{', '.join(gathered.untold)}."
        )
    return proven + untold


def _say(zone: ZoneInfo) -> Say:
    def words(minute: int) -> str:
        local = instant(minute).astimezone(zone)
        return f"{local:%a} {local.day} {local:%b, %H:%M}"

    return words


def _fail(proposal: RotaProposal, words: str) -> None:
    _rows(proposal).filter(state__in=UNDER_WAY).update(state=State.FAILED, words=words)


def _rows(proposal: RotaProposal) -> QuerySet[RotaProposal]:
    return RotaProposal.objects.filter(pk=proposal.pk)
