"""Blind second marks: drawn by a published keyed hash, never to the first marker, evenly loaded."""

from hashlib import sha256

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assessments.scoring.evidence import ScoringInputError
from assessments.scoring.second_marks import choose_marker, choose_second_marks, is_chosen

EDUCATORS = ("Ines", "Omar", "Wren", "Lio")
SETS = [(f"set-{number}", EDUCATORS[number % 4]) for number in range(400)]


def hmac_by_hand(key, text):
    """RFC 2104 written out for a key shorter than a block."""
    block = key.encode().ljust(64, b"\0")
    inner = sha256(bytes(byte ^ 0x36 for byte in block) + text.encode()).digest()
    return sha256(bytes(byte ^ 0x5C for byte in block) + inner).digest()


def test_the_draw_is_the_keyed_hash_of_rfc_2104():
    share = int.from_bytes(hmac_by_hand("key", "set/set-7")[:8], "big") / 2**64
    assert is_chosen("set-7", rate=share + 1e-6, seed="key")
    assert not is_chosen("set-7", rate=share - 1e-6, seed="key")


def test_the_rate_is_the_share_of_sets_chosen():
    # 10 000 draws at .2: standard error .004; beyond four of them once in 16 000 seeds (binomial).
    chosen = sum(is_chosen(f"set-{number}", rate=0.2, seed="marram") for number in range(10_000))
    assert chosen / 10_000 == pytest.approx(0.2, abs=0.016)
    assert not any(is_chosen(uid, rate=0.0, seed="marram") for uid, _ in SETS)
    assert all(is_chosen(uid, rate=1.0, seed="marram") for uid, _ in SETS)


def test_a_higher_rate_only_adds_sets_and_another_seed_draws_others():
    few, more = ({uid for uid, _ in SETS if is_chosen(uid, rate=rate, seed="a")} for rate in (0.1, 0.3))
    other = {uid for uid, _ in SETS if is_chosen(uid, rate=0.3, seed="b")}
    assert few < more
    assert other != more


def test_no_educator_marks_the_same_set_twice_and_loads_differ_by_little():
    found = choose_second_marks(SETS, rate=0.5, waiting=dict.fromkeys(EDUCATORS, 0), seed="a")
    first = dict(SETS)
    assert all(second.marker != first[second.set_uid] for second in found)
    loads = [sum(second.marker == name for second in found) for name in EDUCATORS]
    assert max(loads) - min(loads) <= 2


def test_who_already_waits_for_much_gets_less():
    found = choose_second_marks(SETS[:40], rate=1.0, waiting={"Ines": 30, "Omar": 0, "Wren": 0}, seed="a")
    assert sum(second.marker == "Ines" for second in found) == 0


@settings(max_examples=25)
@given(st.permutations(SETS[:30]))
def test_the_order_in_which_sets_are_listed_changes_nothing(order):
    waiting = dict.fromkeys(EDUCATORS, 0)
    assert choose_second_marks(order, rate=0.4, waiting=waiting, seed="a") == choose_second_marks(
        SETS[:30], rate=0.4, waiting=waiting, seed="a"
    )


def test_an_academy_with_one_educator_is_told_what_to_do():
    found = choose_marker("set-1", first_marker="Ines", waiting={"Ines": 0}, seed="a")
    assert found.marker is None
    assert found.words == "No other educator can give a second mark. Add one, or lower the rate to 0."


def test_a_rate_load_or_seed_that_cannot_be_is_refused():
    with pytest.raises(ScoringInputError, match="share from 0 to 1"):
        is_chosen("set-1", rate=1.5, seed="a")
    with pytest.raises(ScoringInputError, match="below zero"):
        choose_marker("set-1", first_marker="Ines", waiting={"Omar": -1}, seed="a")
    with pytest.raises(ScoringInputError, match="no secret"):
        is_chosen("set-1", rate=0.5, seed="")
