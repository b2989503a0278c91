"""Students by need, where one stands, what to practise next and her sets."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from academy.models import Membership, User
from assessments.models import SkillStanding
from courses.models import Skill
from tests.factories.academy import Cast, make_cohort, make_member
from tests.factories.assessments import Bench, Outcome, make_entry, make_graded_set, make_open_set

STUDENTS = reverse("assessments:student-list")
STAND = reverse("assessments:stand")
NEXT = reverse("assessments:next")
MY_SETS = reverse("assessments:my-sets")
DAYS_AGO = timezone.now() - timedelta(days=40)


def text(client, url: str) -> str:
    answer = client.get(url)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


class TestStudents:
    def test_only_staff_see_the_list_and_only_their_own_academy(self, cast: Cast, client_for):
        assert client_for(cast.ada).get(STUDENTS).status_code == 403
        assert "Ada Marsh" in text(client_for(cast.ines), STUDENTS)
        assert "Ada Marsh" not in text(client_for(cast.omar), STUDENTS)

    def test_an_empty_list_tells_the_owner_to_invite(self, cast: Cast, client_for):
        Membership.objects.filter(pk__in=[cast.ada.pk, cast.bea.pk]).update(left_at=DAYS_AGO)
        page = text(client_for(cast.owner), STUDENTS)
        assert "No students yet" in page and reverse("academy:invite") in page
        assert reverse("academy:invite") not in text(client_for(cast.ines), STUDENTS)

    def test_a_newcomer_is_not_given_a_level(self, cast: Cast, client_for):
        page = text(client_for(cast.ines), STUDENTS)
        assert page.count("not marked yet") == 2  # Ada and Bea, once each

    @pytest.mark.parametrize("query", ["?cohort=x", "?cohort=", "?page=x", "?page=99", "?cohort=²"])
    def test_a_query_that_makes_no_sense_still_shows_students(self, cast: Cast, client_for, query: str):
        assert "Ada Marsh" in text(client_for(cast.ines), STUDENTS + query)

    def test_cohort_and_search_are_kept_while_paging(self, cast: Cast, client_for):
        cohort = make_cohort(cast.academy, "Crowd")
        for number in range(30):
            make_member(cast.academy, f"Kim {number}", cohort=cohort)
        page = text(client_for(cast.ines), f"{STUDENTS}?q=kim&cohort={cohort.pk}")
        assert f"?q=kim&amp;cohort={cohort.pk}&amp;page=2" in page
        assert 'value="kim"' in page and "30 students" in page

    def test_a_search_without_result_offers_to_show_all(self, cast: Cast, client_for):
        assert "Nobody found" in text(client_for(cast.ines), STUDENTS + "?q=zzz")

    def test_the_list_costs_the_same_with_twenty_and_with_two_thousand(
        self, cast: Cast, client_for, count_queries
    ):
        client = client_for(cast.ines)
        crowd(cast, 20)
        few = count_queries(client, STUDENTS)
        crowd(cast, 1980)
        assert count_queries(client, STUDENTS) == few
        assert "2002 students" in text(client, STUDENTS)


def crowd(cast: Cast, size: int) -> None:
    """Students with four standings each, written in bulk."""
    start = Membership.objects.count()
    users = User.objects.bulk_create(
        User(email=f"{start + n}@crowd.example", name=f"Crowd {start + n}") for n in range(size)
    )
    members = Membership.objects.bulk_create(
        Membership(academy=cast.academy, user=user, role="student", joined_at=DAYS_AGO) for user in users
    )
    skills = [
        Skill.objects.get_or_create(code=f"skill-{n}", defaults={"name": f"Skill {n}"})[0] for n in range(4)
    ]
    SkillStanding.objects.bulk_create(
        SkillStanding(
            student=member,
            skill=skill,
            level=(member.pk * 7 + skill.pk) % 40 / 10,
            low=0,
            high=4,
            sets=3,
            status="ok",
            words="",
            model_version="test",
            at=DAYS_AGO,
        )
        for member in members
        for skill in skills
    )


class TestStand:
    def test_a_student_reads_her_own_page_and_staff_the_same_one(self, bench: Bench, cast: Cast, client_for):
        make_graded_set(bench, at=DAYS_AGO, outcome=Outcome(faults={n: ["STK"] for n in range(7)}))
        own = text(client_for(cast.ada), STAND)
        theirs = text(client_for(cast.ines), reverse("assessments:student", args=[cast.ada.pk]))
        for page in (own, theirs):
            assert page.index("Isolation</h3>") < page.index("Coverage</h3>")
            assert "from 1 graded set; provisional" in page
            assert "Sticky" in page and "7 of 40" in page

    def test_a_foreign_student_is_not_here(self, cast: Cast, client_for):
        url = reverse("assessments:student", args=[cast.omar_student.pk])
        assert client_for(cast.ines).get(url).status_code == 404
        own = reverse("assessments:student", args=[cast.ada.pk])
        assert client_for(cast.omar).get(own).status_code == 404
        assert client_for(cast.bea).get(own).status_code == 403

    def test_a_newcomer_reads_what_will_appear_and_no_number(self, cast: Cast, client_for):
        page = text(client_for(cast.ada), STAND)
        assert "Nothing is marked yet" in page and "No graded set yet." in page
        assert "of 4" not in page

    @pytest.mark.parametrize(
        ("sets", "words"),
        [(1, "a first impression"), (2, "a direction, not yet a measure"), (3, "3 graded sets")],
    )
    def test_the_first_sets_come_with_honest_words(self, bench: Bench, client_for, sets: int, words: str):
        for number in range(sets):
            make_graded_set(bench, at=DAYS_AGO + timedelta(days=2 * number))
        assert words in text(client_for(bench.student), STAND)

    def test_the_page_costs_the_same_with_more_sets(self, bench: Bench, client_for, count_queries):
        client = client_for(bench.student)
        make_graded_set(bench, at=DAYS_AGO)
        few = count_queries(client, STAND)
        make_graded_set(bench, at=DAYS_AGO + timedelta(days=2))
        assert count_queries(client, STAND) == few


class TestNextPractice:
    def test_it_is_one_drill_with_its_count_date_and_reason(self, bench: Bench, client_for):
        entry = make_entry(note="Slow down at the inner corner.", count=25)
        make_graded_set(bench, at=DAYS_AGO, outcome=Outcome(faults={0: ["STK"]}), entry=entry)
        page = text(client_for(bench.student), NEXT)
        for words in (
            "Hold and check",
            "25 clean isolations with adhesive",
            "overdue",
            "Slow down at the inner corner.",
            "Ines Carvalho on set 1",
            "bonded to a neighbour",
            "sticky on 1 of 40",
        ):
            assert words in page
        assert page.count("<h3>") == 1  # one thing, no backlog

    def test_before_the_first_marks_it_says_what_will_appear(self, cast: Cast, client_for):
        assert "Nothing to practise yet" in text(client_for(cast.ada), NEXT)

    def test_marks_without_a_drill_send_her_to_the_educator(self, bench: Bench, client_for):
        make_graded_set(bench, at=DAYS_AGO, entry=make_entry(drill=""))
        assert "No drill was set after your latest set" in text(client_for(bench.student), NEXT)

    def test_it_is_a_page_for_students(self, cast: Cast, client_for):
        assert client_for(cast.ines).get(NEXT).status_code == 403


class TestSets:
    def test_a_student_sees_state_before_and_marks_after_signing(self, bench: Bench, cast: Cast, client_for):
        grade = make_graded_set(bench, at=DAYS_AGO)
        make_open_set(bench, at=DAYS_AGO + timedelta(days=2))
        page = text(client_for(cast.ada), MY_SETS)
        assert page.index("Set 2, Soft volume") < page.index("Set 1, Soft volume")
        assert f"{grade.score:.0f} of 100" in page and "gates passed" in page
        assert ">ready<" in page.replace("> ", ">").replace(" <", "<")

    def test_staff_see_a_students_sets_and_nobody_else_does(self, bench: Bench, cast: Cast, client_for):
        make_open_set(bench)
        url = reverse("assessments:student-sets", args=[cast.ada.pk])
        assert "Set 1, Soft volume" in text(client_for(cast.ines), url)
        assert client_for(cast.omar).get(url).status_code == 404
        assert client_for(cast.bea).get(url).status_code == 403

    def test_empty_lists_say_what_happens_next(self, cast: Cast, client_for):
        assert "Your educator opens a set" in text(client_for(cast.ada), MY_SETS)
        url = reverse("assessments:student-sets", args=[cast.ada.pk])
        assert "Start a set" in text(client_for(cast.ines), url)
