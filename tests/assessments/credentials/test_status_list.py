"""Status lists: which bit is whose, told the same by decoders that are not ours."""

import gzip
import subprocess
from base64 import urlsafe_b64decode, urlsafe_b64encode
from datetime import UTC, datetime, timedelta
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2

from assessments.credentials.achievement import credential
from assessments.credentials.status_list import (
    BITS,
    REVOCATION,
    SUSPENSION,
    decode,
    draw_index,
    encode,
    is_set,
    read_status_list,
    status_credential,
)
from assessments.credentials.tokens import Refusal, TokenRefused, sign
from tests.factories.credentials import ISSUER, PLACE, facts, key, kid, list_facts, published, status_url

MADE = datetime(2026, 6, 1, 12, tzinfo=UTC)
INDEXES = st.sets(st.integers(0, BITS - 1), max_size=200)
# Bitstring Status List v1.0 (W3C Recommendation), examples of section 2.2 and appendix A: no bit set.
W3C_EXAMPLE = "uH4sIAAAAAAAAA-3BMQEAAADCoPVPbQwfoAAAAAAAAAAAAAAAAAAAAIC3AYbSVKsAQAAA"


def packed(encoded: str) -> bytes:
    return urlsafe_b64decode(encoded[1:] + "=" * (-len(encoded[1:]) % 4))


def encoded_of(raw: bytes) -> str:
    return "u" + urlsafe_b64encode(gzip.compress(raw)).rstrip(b"=").decode()


def entry(purpose: str = REVOCATION, index: int = PLACE) -> dict[str, str]:
    (status,) = (each for each in credential(facts())["credentialStatus"] if each["statusPurpose"] == purpose)
    return {**status, "statusListIndex": str(index)}


def token(*indexes: int, purpose: str = REVOCATION, which: str = "own", **changes) -> str:
    return sign(status_credential(list_facts(*indexes, purpose=purpose, **changes)), key(which), kid(which))


# --- Bits ---


def test_the_published_example_is_a_list_of_131072_bits_none_of_which_is_set():
    assert decode(W3C_EXAMPLE) == bytes(16_384)
    assert decode(encode([])) == decode(W3C_EXAMPLE)


def test_index_0_is_the_left_most_bit():
    """Section 2.2: the first index, with a value of zero, is at the left-most bit."""
    assert decode(encode([0]))[:2] == b"\x80\x00"
    assert decode(encode([7]))[:2] == b"\x01\x00"
    assert decode(encode([8]))[:2] == b"\x00\x80"
    assert decode(encode([BITS - 1]))[-2:] == b"\x00\x01"


@settings(max_examples=25, deadline=None)
@given(INDEXES)
def test_gzip_and_numpy_find_the_same_bits(indexes):
    """Two programs apart from ours: the one unpacks, the other counts bits from the left."""
    unpacked = subprocess.run(["gzip", "-dc"], input=packed(encode(indexes)), capture_output=True, check=True)
    bits = np.unpackbits(np.frombuffer(unpacked.stdout, dtype=np.uint8), bitorder="big")
    assert len(bits) == BITS
    assert set(np.flatnonzero(bits).tolist()) == indexes


@settings(deadline=None)
@given(INDEXES, st.integers(0, BITS - 1))
def test_a_bit_is_set_exactly_when_its_index_was_given(indexes, other):
    bits = decode(encode(indexes))
    assert all(is_set(bits, index) for index in indexes)
    assert is_set(bits, other) == (other in indexes)


@settings(deadline=None)
@given(INDEXES)
def test_the_order_of_indexes_changes_nothing(indexes):
    assert encode(sorted(indexes)) == encode(sorted(indexes, reverse=True))


@pytest.mark.parametrize("index", [-1, BITS, BITS + 5])
def test_a_place_outside_the_list_is_refused(index):
    with pytest.raises(ValueError, match=f"{index} is not one of them"):
        encode([index])
    with pytest.raises(ValueError, match=f"{index} is not one of them"):
        is_set(bytes(16_384), index)


def test_a_list_is_small_while_few_are_revoked():
    assert len(encode(Random(1).sample(range(BITS), 100))) < 1_500


@pytest.mark.parametrize(
    "hostile",
    [
        "",
        "u",
        "uAAAA",
        "H4sIAAAAAAAAA",
        "z" + W3C_EXAMPLE[1:],
        W3C_EXAMPLE[:-8],
        W3C_EXAMPLE + "AAAA",
        W3C_EXAMPLE.replace("-", "+"),
        "u" + "A" * 50_000,
    ],
)
def test_what_is_no_list_is_refused_in_words(hostile):
    with pytest.raises(ValueError, match="status list"):
        decode(hostile)


@pytest.mark.parametrize("size", [0, 1, 16_383, 16_385, 50_000_000])
def test_a_list_of_another_length_is_refused_without_being_unpacked(size):
    """Fifty million zeros fit in the same few bytes: only 16 KiB of them are looked at."""
    with pytest.raises(ValueError, match="status list"):
        decode(encoded_of(bytes(size)))


# --- Places ---


@settings(deadline=None)
@given(st.sets(st.integers(0, BITS - 1), max_size=50), st.randoms(use_true_random=False))
def test_a_place_that_is_taken_is_never_given_again(taken, random):
    index = draw_index(taken, random)
    assert index not in taken and 0 <= index < BITS


def test_the_last_free_place_is_found_and_a_full_list_says_so():
    taken = set(range(BITS)) - {77}
    assert draw_index(taken, Random(3)) == 77
    with pytest.raises(ValueError, match="full"):
        draw_index(taken | {77}, Random(3))


def test_places_do_not_follow_one_another():
    """In order they would tell the order of issue. Pearson's chi-squared over 16 equal parts of the list."""
    random, taken = Random(20_260_302), set()
    for _ in range(4_000):
        taken.add(draw_index(taken, random))
    counts = np.bincount(np.array(sorted(taken)) * 16 // BITS, minlength=16)
    assert ((counts - 250.0) ** 2 / 250.0).sum() < chi2.ppf(0.9999, df=15)


# --- The list as a credential ---


def test_the_list_has_the_members_of_the_recommendation():
    """Section 2.2; ttl in milliseconds."""
    told = status_credential(list_facts(PLACE))
    assert told["type"] == ["VerifiableCredential", "BitstringStatusListCredential"]
    assert told["id"] == status_url(REVOCATION)
    assert told["issuer"] == ISSUER
    subject = told["credentialSubject"]
    assert (subject["type"], subject["statusPurpose"], subject["ttl"]) == (
        "BitstringStatusList",
        REVOCATION,
        600_000,
    )
    assert is_set(decode(subject["encodedList"]), PLACE)


def test_a_reader_whose_clock_is_a_little_behind_still_finds_it_current():
    assert datetime.fromisoformat(status_credential(list_facts())["validFrom"]) < MADE


def test_a_list_says_for_each_certificate_whether_it_is_set():
    fetched = token(PLACE, PLACE + 2)
    for index, answer in ((PLACE, True), (PLACE + 1, False), (PLACE + 2, True)):
        place = entry(index=index)
        assert read_status_list(fetched, published(), entry=place, issuer=ISSUER, at=MADE) is answer


def test_revoked_and_restored_reads_as_it_stands_each_time():
    answers = [
        read_status_list(
            token(*indexes, purpose=SUSPENSION), published(), entry=entry(SUSPENSION), issuer=ISSUER, at=MADE
        )
        for indexes in ((), (PLACE,), ())
    ]
    assert answers == [False, True, False]


def refusal(fetched: str, at: datetime = MADE, keys=None, purpose: str = REVOCATION) -> Refusal:
    with pytest.raises(TokenRefused) as refused:
        read_status_list(fetched, keys or published(), entry=entry(purpose), issuer=ISSUER, at=at)
    return refused.value.reason


def test_an_old_list_cannot_be_shown_in_place_of_a_newer_one():
    """Replay: from before the revocation, with a true signature."""
    before = token()
    assert refusal(before, at=MADE + timedelta(hours=1)) == Refusal.STALE
    assert not read_status_list(
        before, published(), entry=entry(), issuer=ISSUER, at=MADE + timedelta(minutes=59)
    )


def test_the_other_list_and_the_other_purpose_are_refused():
    assert refusal(token(purpose=SUSPENSION)) == Refusal.OTHER_LIST
    assert refusal(token(url=status_url(SUSPENSION))) == Refusal.OTHER_LIST
    assert refusal(token(url=status_url(SUSPENSION)), purpose=SUSPENSION) == Refusal.OTHER_LIST


def test_a_list_signed_by_somebody_else_is_refused():
    assert refusal(token(which="other")) == Refusal.UNKNOWN_KEY
    assert refusal(token(issuer="did:web:fanlight.example:schools:8")) == Refusal.OTHER_ISSUER
    signed = token().rpartition(".")[0]
    assert refusal(f"{signed}.{token(PLACE).split('.')[2]}") == Refusal.CHANGED


def test_a_certificate_is_not_a_list():
    assert refusal(sign(credential(facts()), key(), kid())) == Refusal.OTHER_KIND
