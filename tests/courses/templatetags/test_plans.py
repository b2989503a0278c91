from datetime import date, timedelta

from courses.models import ProposalLine
from courses.selectors.plan_weeks import Block, PlanDay, PlanWeek
from courses.templatetags.plans import plan_drawing

MONDAY = date(2026, 3, 9)


def week(*blocks: Block) -> PlanWeek:
    days = [MONDAY + timedelta(days=n) for n in range(7)]
    return PlanWeek([PlanDay(day, [each for each in blocks if each.on == day]) for day in days], 9, 13)


def block(day: int, starts_h: float, *, change: str = "new", was: bool = False, **lanes: int) -> Block:
    line = ProposalLine(change=change, position=4)
    return Block(line, MONDAY + timedelta(days=day), starts_h, starts_h + 1.5, was, **lanes)


def test_each_block_has_its_sign_and_the_number_of_its_line():
    drawn = plan_drawing(
        week(block(0, 9), block(1, 9, change="moved"), block(2, 9, change="moved", was=True))
    )
    assert [(each.shape, each.sign, each.number) for each in drawn.blocks] == [
        ("new", "+", 5),
        ("moved", "\N{RIGHTWARDS ARROW}", 5),
        ("gone", "\N{MULTIPLICATION SIGN}", 5),
    ]


def test_a_weekend_is_drawn_only_when_something_lies_there():
    assert len(plan_drawing(week(block(0, 9))).days) == 5
    assert [day for *_, day in plan_drawing(week(block(5, 9))).days][-1] == MONDAY + timedelta(days=5)


def test_blocks_side_by_side_share_the_width_and_keep_apart():
    left, right = plan_drawing(week(block(0, 9, lane=0, lanes=2), block(0, 10, lane=1, lanes=2))).blocks
    assert float(left.x) + float(left.width) < float(right.x)
    assert float(left.y) < float(right.y)


def test_every_block_lies_inside_the_drawing():
    drawn = plan_drawing(week(block(4, 11.5)))
    (only,) = drawn.blocks
    assert float(only.x) + float(only.width) <= drawn.width
    assert float(only.y) + float(only.height) <= drawn.height
