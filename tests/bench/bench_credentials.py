"""Milliseconds to sign, check, list and bake a certificate of twelve skills; no database and no server."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from random import Random
from statistics import median
from time import perf_counter

from assessments.credentials.achievement import credential
from assessments.credentials.baking import bake, unbake
from assessments.credentials.status_list import BITS, StatusListFacts, decode, encode, status_credential
from assessments.credentials.tokens import sign, verify
from assessments.credentials.uploads import token_in
from tests.factories.credentials import ISSUER, facts, key, kid, list_facts, picture, published

WARM_UPS, ROUNDS = 5, 50
CERTIFICATES = 100_000  # in one list
SKILLS = 12


def main() -> None:
    skill = facts().skills[0]
    skills = tuple(replace(skill, code=f"skill-{number}") for number in range(SKILLS))
    told = credential(facts(skills=skills))
    token = sign(told, key(), kid())
    baked = bake(picture(), token)
    print(f"A certificate of {SKILLS} skills: {len(token):,} characters")
    _print_time("put together", lambda: credential(facts(skills=skills)))
    _print_time("signed", lambda: sign(told, key(), kid()))
    _print_time("checked", lambda: verify(token, published(), ISSUER))
    _print_time("baked", lambda: bake(picture(), token))
    _print_time("taken out", lambda: unbake(baked))
    _print_time(
        "hostile upload of 5 MB refused", lambda: token_in(b"%PDF-" + b"/EmbeddedFile stream" * 250_000)
    )
    _print_lists()


def _print_lists() -> None:
    for share in (0.0, 0.01, 0.5, 1.0):
        places = Random(1).sample(range(BITS), CERTIFICATES)[: int(CERTIFICATES * share)]
        text = encode(places)
        print(f"Status list, {len(places):,} of {CERTIFICATES:,} certificates set: {len(text):,} characters")
        _print_time("encoded", partial(encode, places))
        _print_time("decoded", partial(decode, text))
        _print_time("as a signed list", partial(_signed_list, list_facts(*places)))


def _signed_list(listed: StatusListFacts) -> str:
    return sign(status_credential(listed), key(), kid())


def _print_time(what: str, call: Callable[[], object]) -> None:
    for _ in range(WARM_UPS):
        call()
    times = []
    for _ in range(ROUNDS):
        began = perf_counter()
        call()
        times.append((perf_counter() - began) * 1000)
    print(f"  {what}: {median(times):.2f} ms (worst {max(times):.2f})")


if __name__ == "__main__":
    main()
