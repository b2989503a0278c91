import pytest
from django.core.management import call_command

pytestmark = pytest.mark.django_db


def test_the_command_says_what_there_is_and_may_run_twice(capsys):
    call_command("load_catalogue")
    call_command("load_catalogue")
    line = "The catalogue has 14 skills, 26 faults and 26 drills."
    assert capsys.readouterr().out.splitlines() == [line, line]
