from datetime import date, timedelta

import pytest

from courses.models import Booking, ProposalLine, RotaProposal
from courses.planning.problem import ProblemError
from courses.selectors.planning import instant
from courses.services import planning as services
from courses.services.planning import GRACE, PlanUnderWay, compute_proposal, fail_cut_short, open_proposal
from tests.courses.selectors.test_planning import asked_for
from tests.factories.academy import Cast
from tests.factories.rota import MADE_AT, Rota, make_free, make_rota

NOW = MADE_AT
FIRST, LAST = date(2026, 3, 9), date(2026, 3, 15)


@pytest.fixture
def rota(cast: Cast) -> Rota:
    return make_rota(cast)


def opened(cast: Cast, now=NOW) -> RotaProposal:
    return open_proposal(
        academy=cast.academy, first_on=FIRST, last_on=LAST, time_limit_s=10, actor=cast.ines, now=now
    )


def computed(cast: Cast, *asked) -> RotaProposal:
    proposal = opened(cast)
    compute_proposal(proposal=proposal, asked=asked, now=NOW)
    proposal.refresh_from_db()
    return proposal


def test_a_need_gets_a_line_with_its_place_its_words_and_its_reasons(cast: Cast, rota: Rota):
    make_free(cast.ada, 1)
    proposal = computed(cast, asked_for(cast, rota))
    (line,) = proposal.lines.all()
    assert (proposal.state, proposal.progress, proposal.gap) == ("ready", 100, 0.0)
    assert (line.change, line.need, line.student, line.state) == ("new", 7, cast.ada, "open")
    assert cast.ada.name in line.words
    assert line.content["reasons"]
    assert instant(line.content["starts"]).date() == date(2026, 3, 10)
    assert proposal.words == "No better plan exists."


def test_a_plan_changes_nothing_by_itself(cast: Cast, rota: Rota):
    computed(cast, asked_for(cast, rota))
    assert not Booking.objects.exists()


def test_a_need_that_nobody_may_teach_says_what_blocks_it_and_what_would_help(cast: Cast, rota: Rota):
    cast.ines.taught_skills.all().delete()
    cast.second.taught_skills.all().delete()
    (line,) = computed(cast, asked_for(cast, rota)).lines.all()
    assert line.change == "unplaced"
    assert "No educator may teach this skill." in line.words
    assert line.content["remedies"]


def test_who_has_entered_no_free_times_is_named(cast: Cast, rota: Rota):
    assert cast.ada.name in computed(cast, asked_for(cast, rota)).words


def test_a_second_plan_waits_for_the_first(cast: Cast, rota: Rota):
    opened(cast)
    with pytest.raises(PlanUnderWay):
        opened(cast)


def test_one_that_was_cut_short_makes_room(cast: Cast, rota: Rota):
    first = opened(cast)
    late = NOW + timedelta(seconds=10) + GRACE
    with pytest.raises(PlanUnderWay):
        opened(cast, now=late)
    second = opened(cast, now=late + timedelta(seconds=1))
    first.refresh_from_db()
    assert (first.state, second.state) == ("failed", "queued")
    assert "nothing was changed" in first.words


def test_what_is_still_in_time_is_not_failed(cast: Cast, rota: Rota):
    proposal = opened(cast)
    fail_cut_short(academy=cast.academy, now=NOW + timedelta(seconds=9))
    proposal.refresh_from_db()
    assert proposal.state == "queued"


def test_computed_twice_it_is_kept_once(cast: Cast, rota: Rota):
    proposal = computed(cast, asked_for(cast, rota))
    compute_proposal(proposal=proposal, asked=[asked_for(cast, rota)], now=NOW)
    assert proposal.lines.count() == 1


def test_one_that_a_dead_worker_left_computing_is_taken_over(cast: Cast, rota: Rota):
    proposal = opened(cast)
    RotaProposal.objects.filter(pk=proposal.pk).update(state="computing", progress=40)
    compute_proposal(proposal=proposal, asked=[asked_for(cast, rota)], now=NOW)
    proposal.refresh_from_db()
    assert (proposal.state, proposal.lines.count()) == ("ready", 1)


def test_of_two_that_compute_the_first_to_finish_is_kept(cast: Cast, rota: Rota, monkeypatch):
    proposal = opened(cast)
    solved = services._solved

    def overtaken(mine, problem):
        plan = solved(mine, problem)
        RotaProposal.objects.filter(pk=mine.pk).update(state="ready")
        return plan

    monkeypatch.setattr(services, "_solved", overtaken)
    compute_proposal(proposal=proposal, asked=[asked_for(cast, rota)], now=NOW)
    assert not ProposalLine.objects.exists()


def test_a_problem_that_cannot_be_planned_is_told_in_its_own_words(cast: Cast, rota: Rota, monkeypatch):
    def refuses(*args, **kwargs):
        raise ProblemError("x", "Correct the days.")

    monkeypatch.setattr(services, "gather", refuses)
    proposal = computed(cast)
    assert (proposal.state, proposal.words) == ("failed", "Correct the days.")


def test_what_breaks_on_the_way_leaves_no_line_and_says_so(cast: Cast, rota: Rota, monkeypatch):
    def breaks(*args, **kwargs):
        raise RuntimeError("out of memory")

    monkeypatch.setattr(services, "reasons", breaks)
    proposal = opened(cast)
    with pytest.raises(RuntimeError):
        compute_proposal(proposal=proposal, asked=[asked_for(cast, rota)], now=NOW)
    proposal.refresh_from_db()
    assert proposal.state == "failed"
    assert "nothing was changed" in proposal.words
    assert not ProposalLine.objects.exists()
