"""A proposed plan by weeks: what is new, moved, cancelled and unchanged, side by side where times meet."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from courses.models import ProposalLine, RotaProposal
from courses.selectors.planning import instant
from courses.selectors.rota_week import monday_of

Change = ProposalLine.Change


@dataclass(frozen=True, slots=True)
class Block:
    """One session of a line; ``was``: where a moved one comes from, or what is cancelled. Times are local
    hours of the day; ``lane`` of ``lanes`` side by side."""

    line: ProposalLine
    on: date
    starts_h: float
    ends_h: float
    was: bool
    lane: int = 0
    lanes: int = 1

    @property
    def shape(self) -> str:
        """new, moved, unchanged, or gone for a place that is given up."""
        return "gone" if self.was else str(self.line.change)


@dataclass(frozen=True, slots=True)
class PlanDay:
    on: date
    blocks: Sequence[Block]


@dataclass(frozen=True, slots=True)
class PlanWeek:
    """Seven days from Monday on; ``from_h`` and ``to_h``: whole hours that hold every block."""

    days: Sequence[PlanDay]
    from_h: int
    to_h: int

    @property
    def first_on(self) -> date:
        return self.days[0].on

    @property
    def last_on(self) -> date:
        return self.days[-1].on


def plan_weeks(proposal: RotaProposal, lines: Iterable[ProposalLine]) -> list[PlanWeek]:
    """Weeks in which something lies; no query."""
    zone = ZoneInfo(proposal.academy.time_zone)
    blocks = [block for line in lines for block in _blocks(line, zone)]
    weeks: dict[date, list[Block]] = {}
    for block in blocks:
        weeks.setdefault(monday_of(block.on), []).append(block)
    return [_week(monday, weeks[monday]) for monday in sorted(weeks)]


def _blocks(line: ProposalLine, zone: ZoneInfo) -> list[Block]:
    told, found = line.content, []
    is_elsewhere = line.change == Change.CANCELLED or "time" in told.get("changed", [])
    before = tuple(told.get("was", ()))
    if before and is_elsewhere:
        found.append(_block(line, before, zone, was=True))
    if "starts" in told:
        found.append(_block(line, (told["starts"], told["ends"]), zone, was=False))
    elif before and line.change == Change.UNCHANGED:
        found.append(_block(line, before, zone, was=False))
    return found


def _block(line: ProposalLine, span: tuple[int, ...], zone: ZoneInfo, *, was: bool) -> Block:
    starts, ends = span
    local = instant(starts).astimezone(zone)
    first = local.hour + local.minute / 60
    return Block(line, local.date(), first, min(24.0, first + (ends - starts) / 60), was)


def _week(monday: date, blocks: Sequence[Block]) -> PlanWeek:
    days = [monday + timedelta(days=n) for n in range(7)]
    return PlanWeek(
        days=[PlanDay(day, _side_by_side([each for each in blocks if each.on == day])) for day in days],
        from_h=int(min(each.starts_h for each in blocks)),
        to_h=-int(-max(each.ends_h for each in blocks) // 1),
    )


def _side_by_side(blocks: Sequence[Block]) -> list[Block]:
    """Those that meet share the width, each in the first lane that is free when it begins."""
    done: list[Block] = []
    meeting: list[Block] = []
    until: list[float] = []
    for block in sorted(blocks, key=lambda each: (each.starts_h, each.ends_h, each.line.position)):
        if until and block.starts_h >= max(until):
            done += [replace(each, lanes=len(until)) for each in meeting]
            meeting, until = [], []
        lane = next((nth for nth, end in enumerate(until) if end <= block.starts_h), len(until))
        until[lane : lane + 1] = [block.ends_h]
        meeting.append(replace(block, lane=lane))
    return done + [replace(each, lanes=len(until)) for each in meeting]
