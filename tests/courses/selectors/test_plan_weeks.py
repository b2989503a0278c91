from datetime import UTC, date, datetime, timedelta

from academy.models import Academy
from courses.models import ProposalLine, RotaProposal
from courses.selectors.plan_weeks import plan_weeks
from courses.selectors.planning import minutes

MONDAY = datetime(2026, 3, 9, 10, 0, tzinfo=UTC)
PROPOSAL = RotaProposal(academy=Academy(time_zone="Europe/Lisbon"))


def span(hours: float, length: int = 90) -> tuple[int, int]:
    start = minutes(MONDAY + timedelta(hours=hours))
    return start, start + length


def line(
    change: str, position: int = 0, *, at: float | None = None, was: float | None = None
) -> ProposalLine:
    content: dict[str, object] = {"changed": ["time"] if at is not None and was is not None else []}
    if at is not None:
        content["starts"], content["ends"] = span(at)
    if was is not None:
        content["was"] = list(span(was))
    return ProposalLine(change=change, position=position, content=content)


def shapes(*lines: ProposalLine) -> list[tuple[date, str, float]]:
    return [
        (block.on, block.shape, block.starts_h)
        for week in plan_weeks(PROPOSAL, lines)
        for day in week.days
        for block in day.blocks
    ]


def test_each_change_has_its_shape_and_a_move_leaves_its_old_place_behind():
    found = shapes(
        line("new", 0, at=0), line("moved", 1, at=24, was=26), line("cancelled", 2, was=48),
        line("unchanged", 3, was=72),
    )  # fmt: skip
    assert found == [
        (date(2026, 3, 9), "new", 10.0),
        (date(2026, 3, 10), "moved", 10.0),
        (date(2026, 3, 10), "gone", 12.0),
        (date(2026, 3, 11), "gone", 10.0),
        (date(2026, 3, 12), "unchanged", 10.0),
    ]


def test_what_meets_stands_side_by_side_and_what_follows_takes_the_free_lane():
    (week,) = plan_weeks(PROPOSAL, [line("new", 0, at=0), line("new", 1, at=1), line("new", 2, at=1.5)])
    lanes = [(block.line.position, block.lane, block.lanes) for block in week.days[0].blocks]
    assert lanes == [(0, 0, 2), (1, 1, 2), (2, 0, 2)]


def test_weeks_begin_on_monday_and_only_those_with_sessions_are_drawn():
    weeks = plan_weeks(PROPOSAL, [line("new", 0, at=24), line("new", 1, at=24 * 16)])
    assert [week.first_on for week in weeks] == [date(2026, 3, 9), date(2026, 3, 23)]
    assert (weeks[0].from_h, weeks[0].to_h) == (10, 12)


def test_times_are_those_of_the_wall_clock_after_the_clocks_change():
    """29 March 2026: Portugal puts its clocks forward (IANA time zone database)."""
    assert shapes(line("new", 0, at=24 * 21)) == [(date(2026, 3, 30), "new", 11.0)]


def test_what_has_no_place_is_not_drawn():
    assert plan_weeks(PROPOSAL, [ProposalLine(change="unplaced", content={"remedies": []})]) == []
