"""From nothing to an academy whose owner can sign in."""

import pytest
from django.core.management import CommandError, call_command

from academy.models import Academy, Membership
from assessments.models import CompetenceRule, MasteryRule, RubricVersion
from courses.models import ProgrammeVersion, Skill

ARGUMENTS = [
    "--name=Dune End Lash Room",
    "--town=Saltby",
    "--time-zone=Europe/Lisbon",
    "--owner-name=Wren Adair",
    "--owner-email=wren@people.example",
]

pytestmark = pytest.mark.django_db


def replaced(argument):
    name = argument.split("=")[0]
    return [argument if each.startswith(f"{name}=") else each for each in ARGUMENTS]


def test_an_academy_opens_with_owner_catalogue_rubric_rules_and_a_draft_programme(capsys):
    call_command("open_academy", *ARGUMENTS)
    owner = Membership.objects.get()
    assert (owner.role, owner.user.email, owner.academy.time_zone) == (
        "owner",
        "wren@people.example",
        "Europe/Lisbon",
    )
    assert not owner.user.has_usable_password()
    assert RubricVersion.objects.get().published_by == owner
    assert {rule.programme["name"] for rule in CompetenceRule.objects.all()} == {"Short course"}
    assert MasteryRule.objects.get().academy == owner.academy
    assert ProgrammeVersion.objects.get().published_at is None  # the owner enters the hours
    assert "/account/login/code/" in capsys.readouterr().out


def test_the_owner_signs_in_with_a_code_sent_to_the_address(client, mailoutbox):
    call_command("open_academy", *ARGUMENTS)
    client.post("/account/login/code/", {"email": "wren@people.example"})
    assert [letter.to for letter in mailoutbox] == [["wren@people.example"]]


def test_somebody_with_an_account_may_open_a_second_academy():
    call_command("open_academy", *ARGUMENTS)
    call_command("open_academy", *replaced("--name=Tern Quay Lash Room"))
    assert Membership.objects.filter(user__email="wren@people.example", role="owner").count() == 2


@pytest.mark.parametrize(
    ("argument", "sentence"),
    [
        ("--owner-email=wren", "wren is not an e-mail address"),
        ("--time-zone=Europe/Nowhere", "is not a time zone we know"),
        ("--owner-name= ", "Write the person's name"),
    ],
)
def test_what_is_wrong_gets_a_sentence_and_nothing_is_left_behind(argument, sentence):
    with pytest.raises(CommandError, match=sentence):
        call_command("open_academy", *replaced(argument))
    assert not Academy.objects.exists()
    assert not Skill.objects.exists()
