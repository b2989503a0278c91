from datetime import timedelta

from django.urls import reverse

from courses.models import Enrolment, UnitSignOff
from courses.selectors.enrolments import open_enrolment
from courses.services.enrolments import end_enrolment
from courses.services.sign_offs import sign_off
from tests.factories.programmes import (
    ATTENDED,
    HYGIENE,
    INFILL,
    make_enrolment,
    make_hours,
    make_programme,
    next_version,
)


def page_of(student):
    return reverse("courses:enrolment", args=[student.pk])


def test_students_are_enrolled_together_and_those_enrolled_are_no_longer_offered(cast, client_for):
    version, client = make_programme(cast.owner), client_for(cast.owner)
    url = reverse("courses:programme-enrol")
    sent = {"version": version.pk, "students": [cast.ada.pk, cast.bea.pk]}
    answer = client.post(url, sent, follow=True)
    assert "2 students enrolled." in answer.content.decode()
    assert Enrolment.objects.filter(version=version, ended_at=None).count() == 2
    assert "Everybody is enrolled" in client.get(url).content.decode()


def test_the_student_and_version_one_comes_from_are_ticked(cast, client_for):
    version = make_programme(cast.owner)
    url = f"{reverse('courses:programme-enrol')}?student={cast.ada.pk}&version={version.pk}"
    text = client_for(cast.owner).get(url).content.decode()
    assert text.count("checked") == 2


def test_nobody_from_next_door_is_enrolled_and_the_ticks_stay(cast, client_for):
    version, foreign = make_programme(cast.owner), make_programme(cast.omar, "Next door")
    client, url = client_for(cast.owner), reverse("courses:programme-enrol")
    for sent in (
        {"version": foreign.pk, "students": [cast.ada.pk]},
        {"version": version.pk, "students": [cast.ada.pk, cast.omar_student.pk]},
        {"version": version.pk},
    ):
        page = client.post(url, sent)
        assert page.status_code == 200 and page.context["form"].errors
    assert "Tick at least one student." in page.content.decode()
    assert f'value="{version.pk}"' in page.content.decode() and "checked" in page.content.decode()
    assert not Enrolment.objects.exists()


def test_without_a_published_programme_the_page_says_what_to_do(cast, client_for):
    assert (
        "No published programme"
        in client_for(cast.owner).get(reverse("courses:programme-enrol")).content.decode()
    )


def test_a_student_on_none_is_offered_to_the_owner_and_told_to_the_educator(cast, client_for):
    enrol_her = f"{reverse('courses:programme-enrol')}?student={cast.ada.pk}"
    assert enrol_her in client_for(cast.owner).get(page_of(cast.ada)).content.decode()
    text = client_for(cast.ines).get(page_of(cast.ada)).content.decode()
    assert "The owner of the academy enrols students." in text
    own = client_for(cast.ada).get(reverse("courses:my-programme")).content.decode()
    assert "You are on no programme yet" in own


def test_hours_units_and_what_is_left_are_shown_to_staff_and_to_the_student(cast, client_for, now):
    enrolment = make_enrolment(cast.ada, cast.owner)
    make_hours(enrolment, cast.ines, minutes=150, note="Hygiene and the eye")
    make_hours(enrolment, cast.ines, kind="online", minutes=60, on=ATTENDED + timedelta(days=1))
    removal = list(enrolment.version.units.filter(code="removal"))
    sign_off(enrolment=enrolment, units=removal, passed=False, note="Swab again.", actor=cast.ines, now=now)
    staff = client_for(cast.ines).get(page_of(cast.ada)).content.decode()
    own = client_for(cast.ada).get(reverse("courses:my-programme")).content.decode()
    for text in (staff, own):
        assert "3 h 30 min" in text and "6 h 30 min to go." in text
        assert "Units: 0 of 3 passed" in text and "not passed yet" in text and "Swab again." in text
        assert "Hygiene and the eye" in text
    assert "Enter hours" in staff and "Correct<" in staff
    assert "Enter hours" not in own and "Correct<" not in own


def test_units_are_signed_several_at_once(cast, client_for):
    enrolment, client = make_enrolment(cast.ada, cast.owner), client_for(cast.ines)
    units = enrolment.version.units.filter(code__in=["hygiene", "removal"])
    url = reverse("courses:enrolment-units", args=[cast.ada.pk])
    answer = client.post(url, {"units": [unit.pk for unit in units], "passed": "yes", "note": ""})
    assert answer["Location"] == page_of(cast.ada)
    assert set(UnitSignOff.objects.values_list("unit__code", "passed", "signed_by")) == {
        ("hygiene", True, cast.ines.pk),
        ("removal", True, cast.ines.pk),
    }
    labels = [label for _, label in client.get(url).context["form"].fields["units"].choices]
    assert [label.split(" (")[0] for label in labels] == [
        INFILL.title,
        HYGIENE.title,
        "Removal on a mannequin head",
    ]


def test_a_refused_sign_off_keeps_ticks_and_note(cast, client_for):
    enrolment, client = make_enrolment(cast.ada, cast.owner), client_for(cast.ines)
    unit = enrolment.version.units.get(code="removal")
    url = reverse("courses:enrolment-units", args=[cast.ada.pk])
    page = client.post(url, {"units": [unit.pk], "passed": "no", "note": ""})
    assert "Write what is still missing, so that the student knows." in page.content.decode()
    assert page.context["form"]["units"].value() == [str(unit.pk)]
    page = client.post(url, {"passed": "no", "note": "Swab again."})
    assert "Tick at least one unit to sign off." in page.content.decode()
    assert "Swab again." in page.content.decode()
    assert not UnitSignOff.objects.exists()


def test_a_unit_of_another_version_cannot_be_signed(cast, client_for):
    make_enrolment(cast.ada, cast.owner)
    other = make_programme(cast.owner, "Another course").units.all()[0]
    url = reverse("courses:enrolment-units", args=[cast.ada.pk])
    page = client_for(cast.ines).post(url, {"units": [other.pk], "passed": "yes"})
    assert page.status_code == 200 and not UnitSignOff.objects.exists()


def test_a_move_shows_what_changes_before_it_is_confirmed(cast, client_for, now):
    first = make_programme(cast.owner)
    enrolment, client = make_enrolment(cast.ada, cast.owner, first), client_for(cast.owner)
    removal = list(first.units.filter(code="removal"))
    sign_off(enrolment=enrolment, units=removal, passed=True, actor=cast.ines, now=now)
    newer = next_version(first, cast.owner, units=(HYGIENE, INFILL), practical_hours=30)
    url = reverse("courses:enrolment-move", args=[cast.ada.pk, newer.pk])
    assert url in client.get(page_of(cast.ada)).content.decode()
    text = client.get(url).content.decode()
    assert "20 h" in text and "30 h" in text and "Unit that is dropped" in text
    assert "Signed off, and no longer asked for: Removal on a mannequin head." in text
    assert open_enrolment(cast.ada).version == first
    page = client.post(url, {"reason": " "})
    assert "Fill this in." in page.content.decode() and "What changes" in page.content.decode()
    client.post(url, {"reason": "She asked for it."})
    assert open_enrolment(cast.ada).version == newer
    assert "She asked for it." in client.get(page_of(cast.ada)).content.decode()


def test_an_ended_enrolment_stays_readable_and_the_next_one_begins(cast, client_for, now):
    enrolment, client = make_enrolment(cast.ada, cast.owner), client_for(cast.owner)
    make_hours(enrolment, cast.ines, minutes=150)
    url = reverse("courses:enrolment-end", args=[cast.ada.pk])
    client.post(url, {"reason": "She moved away."})
    text = client.get(page_of(cast.ada)).content.decode()
    assert "; ended on" in text and "2 h 30 min" in text and "Enter hours" not in text
    assert "Enrol anew" in text
    make_enrolment(cast.ada, cast.owner, make_programme(cast.owner, "Second course"))
    text = client.get(page_of(cast.ada)).content.decode()
    assert "Second course" in text and "Other enrolments" in text and "Enrol anew" not in text
    earlier = client.get(page_of(cast.ada), {"enrolment": enrolment.pk}).content.decode()
    assert "2 h 30 min" in earlier and "; ended on" in earlier


def test_another_students_enrolment_is_not_shown_under_her_name(cast, client_for):
    hers = make_enrolment(cast.bea, cast.owner)
    make_enrolment(cast.ada, cast.owner)
    own = client_for(cast.ada).get(reverse("courses:my-programme"), {"enrolment": hers.pk})
    assert "Course of Ada Marsh" in own.content.decode()
    assert "Course of Bea Holm" not in own.content.decode()


def test_nothing_is_entered_for_a_student_on_no_programme(cast, client_for, now):
    client = client_for(cast.owner)
    ended = make_enrolment(cast.ada, cast.owner)
    end_enrolment(enrolment=ended, reason="left", actor=cast.owner, now=now)
    for name in ("enrolment-end", "enrolment-units", "hours-enter"):
        assert client.get(reverse(f"courses:{name}", args=[cast.ada.pk])).status_code == 404
