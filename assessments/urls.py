from django.urls import path

from assessments.views import bench, briefs, competence, marks, rubrics, sets, students, today

app_name = "assessments"
urlpatterns = [
    path("today/", today.today, name="today"),
    path("students/", students.student_list, name="student-list"),
    path("students/<int:student_id>/", students.student, name="student"),
    path("students/<int:student_id>/sets/", students.student_sets, name="student-sets"),
    path("stand/", students.stand, name="stand"),
    path("next/", students.next_practice, name="next"),
    path("my-sets/", students.my_sets, name="my-sets"),
    path("bench/new/", bench.new_set, name="bench-new"),
    path("bench/<uuid:uid>/", bench.clock, name="bench"),
    path("bench/<uuid:uid>/inspect/", bench.inspect, name="bench-inspect"),
    path("bench/<uuid:uid>/marks/", marks.sign, name="bench-marks"),
    path("sets/<uuid:uid>/", sets.practice_set, name="set"),
    path("sets/<uuid:uid>/sheet.pdf", sets.sheet, name="set-sheet"),
    path("sets/<uuid:uid>/correct/", marks.correct, name="set-correct"),
    path("competence/", competence.rule_list, name="competence-rules"),
    path("competence/mastery/", competence.mastery, name="competence-mastery"),
    path("competence/skills/<slug:skill>/", competence.rule, name="competence-rule"),
    path("competence/skills/<slug:skill>/picture/", competence.picture, name="competence-picture"),
    path("rubrics/", rubrics.rubric_list, name="rubric-list"),
    path("rubrics/versions/<int:version_id>/", rubrics.version, name="rubric-version"),
    path("rubrics/versions/<int:version_id>/copy/", rubrics.copy, name="rubric-copy"),
    path("rubrics/versions/<int:version_id>/edit/", rubrics.edit, name="rubric-edit"),
    path("rubrics/versions/<int:version_id>/publish/", rubrics.publish, name="rubric-publish"),
    path("rubrics/versions/<int:version_id>/discard/", rubrics.discard, name="rubric-discard"),
    path("rubrics/criteria/<int:criterion_id>/", rubrics.criterion, name="rubric-criterion"),
    path("briefs/<int:brief_id>/rubric/", rubrics.brief_rubric, name="brief-rubric"),
    path("briefs/<int:brief_id>/print.pdf", briefs.brief_print, name="brief-print"),
]
