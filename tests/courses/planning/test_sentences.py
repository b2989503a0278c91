from courses.planning.sentences import name_of, seat_words, student_of, times, together, utc_words
from tests.courses.planning.schools import MONDAY, at, one_bench


def test_a_minute_of_utc_in_words():
    # 15 June 2026 is a Monday: ISO 8601 week 25, day 1.
    assert utc_words(MONDAY + 9 * 60 + 5) == "Mon 15 Jun 09:05 UTC"


def test_a_list_of_names_reads_like_one():
    assert [together(["Ada"]), together(["Ada", "Noor"]), together(["Ada", "Noor", "Tove"])] == [
        "Ada",
        "Ada and Noor",
        "Ada, Noor and Tove",
    ]


def test_one_is_not_many():
    assert [times(1, "day"), times(2, "day"), times(0, "day")] == ["1 day", "2 days", "0 days"]


def test_who_has_gone_is_called_by_code():
    problem = one_bench()
    assert name_of(problem.educators, "ines") == "Ines" and name_of(problem.educators, "omar") == "omar"
    assert student_of(problem, "n1") == "Ada"


def test_a_seat_is_educator_room_bench_and_head():
    assert seat_words(one_bench(), at(0, 9)) == "Ines, Room A, Bench 1, Head 1"
    assert seat_words(one_bench(), at(0, 9, head=None)) == "Ines, Room A, Bench 1"
