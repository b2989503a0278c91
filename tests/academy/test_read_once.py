from contextlib import suppress

import pytest

from academy.read_once import read_anew, read_once, reading_once

asked: list[str] = []


@pytest.fixture(autouse=True)
def nothing_asked():
    asked.clear()


@read_once
def named(name: str, *, loud: bool = False) -> str:
    asked.append(name)
    return name.upper() if loud else name


def test_without_a_piece_of_work_every_question_is_asked():
    assert named("isolation") == named("isolation") == "isolation"
    assert len(asked) == 2


def test_within_one_each_is_asked_once_and_told_apart_by_its_arguments():
    with reading_once():
        told = [named("isolation"), named("isolation"), named("wrap"), named("wrap", loud=True)]
    assert told == ["isolation", "isolation", "wrap", "WRAP"]
    assert asked == ["isolation", "wrap", "wrap"]


def test_a_piece_inside_another_shares_with_it_and_does_not_end_it():
    with reading_once():
        named("isolation")
        with reading_once():
            named("isolation")
        named("isolation")
    assert len(asked) == 1


def test_the_next_piece_asks_again_also_after_one_that_failed():
    with suppress(ZeroDivisionError), reading_once():
        named("isolation")
        raise ZeroDivisionError
    named("isolation")
    assert len(asked) == 2


def test_whoever_writes_makes_it_ask_again():
    with reading_once():
        named("isolation")
        read_anew()
        named("isolation")
    assert len(asked) == 2


def test_an_answer_of_none_is_kept_too():
    nobody = read_once(lambda: asked.append("nobody"))
    with reading_once():
        assert nobody() is None and nobody() is None
    assert len(asked) == 1
