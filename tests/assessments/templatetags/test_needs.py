from datetime import date

from assessments.models import Need
from assessments.selectors.needs import NeedLine, NeedPicture
from assessments.skill.fading import Fading
from assessments.skill.weakest import SkillTarget
from assessments.templatetags.needs import fading_lines, fading_rows

TARGET = SkillTarget("isolation", "Isolation", True, 3.0)
FADING = Fading(
    TARGET,
    ahead=(0.0, 7.0, 42.0, 84.0),
    level=(3.2, 3.1, 2.9, 2.7),
    low=(2.8, 2.7, 2.4, 2.1),
    high=(3.6, 3.5, 3.4, 3.3),
    chance_below=(0.2, 0.3, 0.6, 0.8),
)


def picture(due_place: int = 1, fading: Fading | None = FADING) -> NeedPicture:
    line = NeedLine(Need(due_on=date(2026, 3, 9)), None, 7, "")
    return NeedPicture(line, 0, fading, due_place)


def test_days_run_to_the_right_and_levels_upwards():
    drawn = fading_lines(picture())
    assert drawn is not None
    points = [tuple(map(float, point.split(","))) for point in drawn.line.split()]
    assert [x for x, _ in points] == sorted(x for x, _ in points)
    assert (points[0][0], points[-1][0]) == (34.0, 404.0)
    assert [y for _, y in points] == sorted(y for _, y in points)  # lower levels lie further down
    assert float(drawn.target_y) == 168 - 38 * 3


def test_the_due_day_is_where_the_curve_is():
    drawn = fading_lines(picture(2))
    assert drawn is not None
    assert drawn.due == (f"{34 + 370 / 2:.1f}", f"{168 - 38 * 2.9:.1f}")
    assert (drawn.due_anchor, drawn.days) == ("end", 84)


def test_the_table_has_today_the_due_day_and_the_last():
    rows = fading_rows(picture())
    assert [days for days, *_ in rows] == [0, 7, 42, 84]
    assert rows[1] == (7, 3.1, 2.7, 3.5)


def test_without_marks_there_is_nothing_to_draw():
    assert fading_lines(picture(0, None)) is None
    assert fading_rows(picture(0, None)) == []
