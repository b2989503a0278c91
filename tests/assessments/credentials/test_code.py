"""Codes that people read, type and scan: twelve symbols, each worth five random bits."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.credentials.code import ALPHABET, RANDOM_BYTES, SYMBOLS, code_from, grouped, normalise

RANDOM = st.binary(min_size=RANDOM_BYTES, max_size=RANDOM_BYTES)
CODES = st.text(alphabet=ALPHABET, min_size=SYMBOLS, max_size=SYMBOLS)


def test_the_alphabet_leaves_out_what_is_mixed_up_when_read():
    """Thirty-two digits and letters without I, L, O and U: common practice for codes that people type."""
    assert len(set(ALPHABET)) == 32
    assert not set(ALPHABET) & set("ILOU")
    assert "".join(sorted(ALPHABET.upper())) == ALPHABET


@pytest.mark.parametrize(
    ("random", "code"),
    [(bytes(8), "000000000000"), (b"\xff" * 8, "ZZZZZZZZZZZZ"), (b"\xf0" + bytes(7), "000000000000")],
)
def test_no_bits_and_all_bits_are_the_first_and_the_last_code(random, code):
    assert code_from(random) == code


@given(RANDOM)
def test_symbols_are_five_bits_each_of_the_lowest_sixty(random):
    bits = "".join(f"{byte:08b}" for byte in random)[4:]
    assert code_from(random) == "".join(ALPHABET[int(bits[at : at + 5], 2)] for at in range(0, 60, 5))


@given(CODES)
def test_every_code_comes_from_exactly_sixteen_of_the_random_numbers(code):
    """So each is equally likely: the four bits that are left over decide nothing."""
    number = int("".join(f"{ALPHABET.index(symbol):05b}" for symbol in code), 2)
    made = {code_from((number + rest * 2**60).to_bytes(8, "big")) for rest in range(16)}
    assert made == {code}


@pytest.mark.parametrize("length", [0, 7, 9])
def test_too_little_or_too_much_randomness_is_refused(length):
    with pytest.raises(ValueError, match=f"8 random bytes, not {length}"):
        code_from(bytes(length))


@given(RANDOM)
def test_a_printed_code_is_read_back(random):
    code = code_from(random)
    assert normalise(grouped(code)) == normalise(f"  {grouped(code).lower()} ") == code


@given(RANDOM)
def test_letters_that_look_like_digits_are_read_as_those(random):
    code = code_from(random)
    assert normalise(code.replace("1", "I").replace("0", "o")) == code
    assert normalise(code.replace("1", "l").replace("0", "O")) == code


@pytest.mark.parametrize("typed", ["7Q2M–9KXD—4TBP", "7q2m 9kxd 4tbp", "7Q2M-9KXD-4TBP\n", "7\tQ2M9KXD4TBP"])
def test_how_it_is_spaced_does_not_matter(typed):
    assert normalise(typed) == "7Q2M9KXD4TBP"


@pytest.mark.parametrize(
    "typed", ["", "7Q2M9KXD4TB", "7Q2M9KXD4TBPP", "7Q2M9KXD4TBU", "7Q2M9KXD4TB%", "٧Q2M9KXD4TBP", "ß" * 12]
)
def test_what_cannot_be_a_code_is_none(typed):
    assert normalise(typed) is None


@given(st.text())
def test_any_text_gives_a_code_or_none(text):
    code = normalise(text)
    assert code is None or (len(code) == SYMBOLS and set(code) <= set(ALPHABET))


def test_a_megabyte_of_dashes_is_not_gone_through():
    assert normalise("-" * 1_000_000 + "7Q2M9KXD4TBP") is None
