"""Keys from the terminal: the first is made, later ones are added, none is ever taken away."""

from io import StringIO

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from academy.models import Academy, AuditEntry
from assessments.models import PublicKey
from tests.factories.academy import Cast


def said(*arguments: str, **options: int) -> str:
    out = StringIO()
    call_command("signing_keys", *arguments, stdout=out, **options)
    return out.getvalue()


def test_the_first_key_is_published_and_its_making_recorded(cast: Cast):
    told = said("make", academy=cast.academy.pk)
    row = PublicKey.objects.get(academy=cast.academy)
    assert row.thumbprint in told
    assert AuditEntry.objects.get(action="make_signing_key").after == {"thumbprint": row.thumbprint}


def test_a_second_first_key_is_refused_with_the_way_to_rotate(cast: Cast):
    said("make", academy=cast.academy.pk)
    with pytest.raises(CommandError, match=f"rotate --academy {cast.academy.pk}"):
        said("make", academy=cast.academy.pk)
    assert PublicKey.objects.count() == 1


def test_rotating_adds_a_key_that_signs_and_keeps_the_old_one_for_checking(cast: Cast):
    said("make", academy=cast.academy.pk)
    said("rotate", academy=cast.academy.pk)
    old, new = PublicKey.objects.filter(academy=cast.academy)
    lines = said("list", academy=cast.academy.pk).splitlines()
    assert [line.split()[0] for line in lines[1:]] == [old.thumbprint, new.thumbprint]
    assert [line.split()[-1] for line in lines[1:]] == ["checks", "signs"]


def test_rotating_before_there_is_a_key_says_how_to_make_one(cast: Cast):
    with pytest.raises(CommandError, match=f"make --academy {cast.academy.pk}"):
        said("rotate", academy=cast.academy.pk)


def test_a_list_without_a_choice_shows_every_academy_and_what_is_missing(cast: Cast):
    said("make", academy=cast.academy.pk)
    told = said("list")
    assert PublicKey.objects.get().thumbprint in told
    others = Academy.objects.exclude(pk=cast.academy.pk)
    assert others and all(f"{other.name} has no key" in told for other in others)


@pytest.mark.parametrize("verb", ["make", "rotate"])
def test_a_key_is_made_for_one_named_academy_only(cast: Cast, verb: str):
    with pytest.raises(CommandError, match=f"Say whose key.*{cast.academy.name}"):
        said(verb)
    with pytest.raises(CommandError, match=f"There is no academy 999999.*{cast.academy.name}"):
        said(verb, academy=999_999)


def test_a_wrong_passphrase_is_said_before_anything_is_listed(cast: Cast, monkeypatch):
    said("make", academy=cast.academy.pk)
    monkeypatch.setattr(settings, "KEYS_PASSPHRASE", "another passphrase than the one it was made with")
    with pytest.raises(CommandError, match="Set FANLIGHT_KEYS_PASSPHRASE"):
        said("list", academy=cast.academy.pk)


def test_opening_an_academy_makes_its_key(db: None):
    call_command(
        "open_academy",
        "--name=Dune End Lash Room",
        "--owner-name=Wren Adair",
        "--owner-email=wren@people.example",
        stdout=StringIO(),
    )
    assert PublicKey.objects.get().academy.name == "Dune End Lash Room"
    assert "signs" in said("list")
