"""What is signed has the members that Open Badges 3.0 asks for, and no others."""

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest

from assessments.credentials.achievement import SkillResult, credential, instant
from tests.factories.credentials import LEVELS, PLACE, facts, status_url

DATE_TIME_Z = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")


def everything(value):
    """The value and all that it holds."""
    yield value
    held = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    for each in held:
        yield from everything(each)


def test_the_credential_opens_as_the_standards_ask():
    """VC Data Model 2.0 section 4.3 (order of contexts) and Open Badges 3.0, OpenBadgeCredential."""
    told = credential(facts())
    assert told["@context"] == [
        "https://www.w3.org/ns/credentials/v2",
        "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json",
    ]
    assert told["type"] == ["VerifiableCredential", "OpenBadgeCredential"]
    assert told["id"] == "https://fanlight.example/v/7Q2M9KXD4TBP"
    assert told["validFrom"] == "2026-03-02T09:00:00Z"
    assert told["validUntil"] == "2028-03-02T09:00:00Z"
    assert told["issuer"]["type"] == ["Profile"]


def test_the_subject_is_a_random_name_and_the_holder_is_named_in_plain_text():
    """Open Badges 3.0, IdentityObject: not hashed means that the text is the name itself."""
    subject = credential(facts())["credentialSubject"]
    assert subject["id"] == "urn:uuid:5b0c2e8a-6c1f-4e0b-9d53-0f3a2b7c4d11"
    assert subject["identifier"] == [
        {"type": "IdentityObject", "hashed": False, "identityHash": "Ada Marsh", "identityType": "name"}
    ]


def test_a_skill_is_a_rubric_criterion_with_its_levels_from_low_to_high():
    """Open Badges 3.0: levels and points are strings, requiredLevel names one of the levels."""
    described = credential(facts())["credentialSubject"]["achievement"]["resultDescription"][0]
    assert described["resultType"] == "RubricCriterionLevel"
    assert [level["level"] for level in described["rubricCriterionLevel"]] == ["0", "1", "2", "3", "4"]
    assert [level["points"] for level in described["rubricCriterionLevel"]] == ["0", "1", "2", "3", "4"]
    assert described["requiredLevel"] == described["rubricCriterionLevel"][3]["id"]


def test_every_result_belongs_to_a_description_and_every_level_to_its_skill():
    subject = credential(facts())["credentialSubject"]
    described = {each["id"]: each for each in subject["achievement"]["resultDescription"]}
    assert len(described) == len(subject["result"]) == 4
    for result in subject["result"]:
        levels = described[result["resultDescription"]].get("rubricCriterionLevel", [])
        assert "value" in result or result["achievedLevel"] in {level["id"] for level in levels}


def test_figures_are_text():
    subject = credential(facts())["credentialSubject"]
    hours = subject["achievement"]["resultDescription"][2]
    assert (hours["resultType"], hours["valueMin"], hours["requiredValue"]) == ("RawScore", "0", "40")
    assert subject["result"][2]["value"] == "42.5"


def test_a_status_entry_has_a_name_of_its_own():
    """Bitstring Status List 1.0 section 2.1: the index is text, the id is not the address of the list."""
    revocation, suspension = credential(facts())["credentialStatus"]
    assert revocation == {
        "id": f"{status_url('revocation')}#{PLACE}",
        "type": "BitstringStatusListEntry",
        "statusPurpose": "revocation",
        "statusListIndex": str(PLACE),
        "statusListCredential": status_url("revocation"),
    }
    assert suspension["statusPurpose"] == "suspension"


def test_a_single_status_entry_is_an_object():
    """Open Badges 3.0 knows one entry; several are the VC Data Model's, section 4.10."""
    one = facts(statuses=facts().statuses[:1])
    assert credential(one)["credentialStatus"] == credential(facts())["credentialStatus"][0]


def test_what_has_no_value_is_left_out():
    bare = facts(
        valid_until=None,
        holder_name=None,
        narrative="",
        started_on=None,
        ended_on=None,
        skills=(),
        figures=(),
        statuses=(),
    )
    told = credential(bare)
    assert not {"validUntil", "credentialStatus"} & set(told)
    assert set(told["credentialSubject"]) == {"id", "type", "achievement"}
    assert "resultDescription" not in told["credentialSubject"]["achievement"]
    assert not [value for value in everything(told) if value is None or value in ("", [])]


def test_every_instant_is_utc_in_whole_seconds():
    """Open Badges 3.0, DateTimeZ: the zone is not optional."""
    summer = datetime(2026, 7, 1, 10, 30, 15, 999_999, tzinfo=timezone(timedelta(hours=2)))
    told = credential(facts(valid_from=summer))
    assert told["validFrom"] == "2026-07-01T08:30:15Z"
    instants = [value for value in everything(told) if isinstance(value, str) and value[:4].isdigit()]
    assert [value for value in instants if "T" in value and not DATE_TIME_Z.fullmatch(value)] == []
    assert told["credentialSubject"]["activityStartDate"] == "2025-10-06T00:00:00Z"


def test_an_instant_without_a_zone_is_refused():
    with pytest.raises(ValueError, match="time zone"):
        instant(datetime(2026, 3, 2, 9, tzinfo=UTC).replace(tzinfo=None))


@pytest.mark.parametrize("changes", [{"achieved": 5}, {"required": 7}])
def test_a_level_that_the_skill_does_not_have_is_refused(changes):
    skill = SkillResult("isolation", "Isolation", LEVELS, achieved=3, required=3)
    with pytest.raises(ValueError, match="levels of isolation"):
        replace(skill, **changes)
