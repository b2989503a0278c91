"""Who has a second mark waiting, what she may not read until then, and both results afterwards."""

import pytest

from academy.errors import NotHere
from assessments.selectors import second_marks as find
from assessments.services.marking import correct_marks
from tests.factories.academy import Cast
from tests.factories.assessments import Bench, make_entry
from tests.factories.bench import graded_set, inspected_set, make_bench
from tests.factories.second_marks import (
    LATER,
    give_second_mark,
    inspect_second,
    mark_every_set_twice,
    second_result,
    sign_second,
)


def test_rate_and_loads_are_the_academys_own(bench: Bench, cast: Cast):
    give_second_mark(graded_set(bench), cast.second)  # before the rate could choose this set by itself
    mark_every_set_twice(cast.owner, one_in=4)
    assert str(find.rate_of(cast.academy)) == "one set in 4"
    assert find.rate_of(cast.other_academy) is None
    assert find.second_mark_loads(cast.academy, {cast.ines.pk}) == {cast.second: 1}
    assert find.second_mark_loads(cast.academy, {cast.ines.pk, cast.second.pk}) == {cast.owner: 0}


def test_a_foreign_second_mark_is_not_here_and_a_colleagues_is_not_ones_own(bench: Bench, cast: Cast):
    second = give_second_mark(graded_set(bench), cast.second)
    assert find.second_mark(cast.academy, second.uid) == find.own_second_mark(cast.second, second.uid)
    with pytest.raises(NotHere):
        find.second_mark(cast.other_academy, second.uid)
    with pytest.raises(NotHere):
        find.own_second_mark(cast.ines, second.uid)


def test_a_set_is_blind_to_the_second_educator_alone_and_only_until_she_signs(bench: Bench, cast: Cast):
    grade = graded_set(bench)
    second = give_second_mark(grade, cast.second)
    made = grade.practice_set
    with pytest.raises(find.MarkingBlind) as refused:
        find.set_to_read(cast.second, made.uid)
    assert refused.value.second_uid == second.uid
    assert find.blind_sets(cast.second) == {made.pk: cast.ada.pk}
    assert find.set_to_read(cast.ines, made.uid) == find.set_to_read(cast.owner, made.uid) == made
    sign_second(inspect_second(second))
    assert find.set_to_read(cast.second, made.uid) == made
    assert find.blind_sets(cast.second) == {}


def test_waiting_ones_come_first_and_can_be_asked_of_one_student(bench: Bench, cast: Cast):
    done = second_result(graded_set(bench), cast.second).second_mark
    waits = give_second_mark(graded_set(make_bench(cast, cast.bea, head="Head 2")), cast.second)
    assert find.latest_second_marks(cast.academy, 5) == [waits, done]
    assert list(find.waiting_for(cast.second)) == [waits]
    assert list(find.waiting_for(cast.second, cast.ada)) == []
    assert list(find.waiting_for(cast.second, cast.bea)) == [waits]


def test_both_results_stand_beside_each_other_gates_first(
    bench: Bench, cast: Cast, django_assert_num_queries
):
    grade = graded_set(bench, entry=make_entry(levels={"product": 2}))
    second = second_result(grade, cast.second, {"product": 4}).second_mark
    with django_assert_num_queries(4):
        found = find.comparison(second)
    levels = {level.name: level for level in found.levels}
    product = levels["Product fit"]
    assert (product.first, product.second, product.apart) == (2, 4, 2)
    assert (product.first_words, product.second_words) == ("seen at the bench", "seen on the head")
    assert levels["Hygiene and set-up"].apart is None and levels["Isolation"].apart == 0
    assert found.differences == 1
    gates = [level.is_gate for level in found.levels]
    assert gates == sorted(gates, reverse=True)


def test_the_first_result_is_compared_as_it_was_first_signed(bench: Bench, cast: Cast):
    grade = graded_set(bench, entry=make_entry(levels={"product": 2}))
    second = second_result(grade, cast.second, {"product": 4}).second_mark
    correct_marks(
        actor=cast.owner,
        uid=grade.practice_set.uid,
        entry=make_entry(levels={"product": 4}),
        reason="We talked.",
        base_revision=1,
        now=LATER,
    )
    assert find.comparison(second).first.revision == 1
    assert find.comparison(second).differences == 1


def test_notes_tell_who_said_what(bench: Bench, cast: Cast):
    second = second_result(graded_set(bench), cast.second).second_mark
    second.notes.create(author=cast.ines, text="Lint.", at=LATER)
    assert [(note.author.name, note.text) for note in find.notes_on_second_mark(second)] == [
        ("Ines Carvalho", "Lint.")
    ]


def test_a_set_not_graded_yet_is_blind_to_nobody(bench: Bench, cast: Cast, django_assert_num_queries):
    made = inspected_set(bench)
    with django_assert_num_queries(1):
        assert find.set_to_read(cast.second, made.uid) == made
