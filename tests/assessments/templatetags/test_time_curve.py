"""The picture of set times: longer times lie higher, the target between its neighbours."""

from assessments.selectors.time_forecasts import CurvePoint, TimeForecast
from assessments.skill.time_forecast import Forecast
from assessments.templatetags.time_curve import BOTTOM, TOP, time_lines

POINTS = (
    CurvePoint(1, 240.0, 235.0, 220.0, 250.0),
    CurvePoint(2, 200.0, 205.0, 190.0, 220.0),
    CurvePoint(3, None, 190.0, 170.0, 210.0),
)


def shown() -> TimeForecast:
    return TimeForecast("Soft volume", 2, 180, Forecast(10800.0, 200, 1, 2, 5, 0.9, "ok", "words"), POINTS)


def test_every_set_done_has_a_ring_and_the_line_goes_on_dotted_from_the_last():
    lines = time_lines(shown())
    assert len(lines.dots) == 2
    assert lines.done.split()[-1] == lines.ahead.split()[0]
    assert len(lines.ahead.split()) == 2
    assert (lines.first, lines.last) == (1, 3)


def test_longer_times_lie_higher_and_everything_lies_inside_the_frame():
    lines = time_lines(shown())
    first, second = (float(y) for _, y in lines.dots)
    assert first < second < float(lines.target_y)
    heights = [float(place.split(",")[1]) for place in lines.band.split()]
    assert min(heights) >= TOP and max(heights) <= BOTTOM
    assert lines.minutes[0] == (f"{BOTTOM:.1f}", 0) and lines.minutes[-1][1] >= 250
