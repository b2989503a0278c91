"""The planner is killed in the middle of its work, as a process, on the real database."""

import os
import signal
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection

from assessments.services import retraining as services
from assessments.services.retraining import ask_for_plan, compute_plan
from courses.models import Booking, ProposalLine, RotaProposal
from courses.services.planning import GRACE
from tests.factories.academy import Cast
from tests.factories.needs import make_need
from tests.factories.rota import MADE_AT, make_rota

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.services]
ROOT = Path(__file__).resolve().parents[3]
# Solves, and then takes its time over the reasons, so that it is killed with the plan found and nothing kept.
SLOW = """
import sys, time
import django
django.setup()
from django.utils import timezone
from courses.models import RotaProposal
from courses.services import planning
from assessments.services.retraining import compute_plan
from tests.factories.rota import MADE_AT
planning.reasons = lambda *args: time.sleep(120)
proposal = RotaProposal.objects.select_related("academy").get()
compute_plan(proposal=proposal, now=MADE_AT)
"""


def start_planner() -> subprocess.Popen[bytes]:
    database = connection.settings_dict
    where = f"{database['HOST']}:{database['PORT']}/{database['NAME']}"
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "academy.settings",
        "DATABASE_URL": f"postgresql://{database['USER']}:{database['PASSWORD']}@{where}",
        "PYTHONPATH": str(ROOT),
    }
    return subprocess.Popen([sys.executable, "-c", SLOW], cwd=ROOT, env=environment)


def wait_until_computing(limit_s: float = 60) -> None:
    until = time.monotonic() + limit_s
    while RotaProposal.objects.get().state != "computing":
        assert time.monotonic() < until, "The planner did not begin."
        time.sleep(0.2)


def test_a_planner_killed_mid_run_leaves_nothing_half_written(cast: Cast, monkeypatch):
    make_rota(cast)
    make_need(cast.ada, cast.ines)
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)
    plan = ask_for_plan(academy=cast.academy, weeks=2, time_limit_s=10, actor=cast.ines, now=MADE_AT)
    planner = start_planner()
    try:
        wait_until_computing()
        time.sleep(2)  # far enough to have found its plan
    finally:
        planner.send_signal(signal.SIGKILL)
        planner.wait()
    plan.refresh_from_db()
    assert plan.state == "computing"
    assert not ProposalLine.objects.exists()
    assert not Booking.objects.exists()
    compute_plan(proposal=plan, now=MADE_AT)  # the task is delivered again, and takes it over
    plan.refresh_from_db()
    assert (plan.state, plan.lines.count()) == ("ready", 1)


def test_one_that_nobody_takes_over_makes_room_for_the_next(cast: Cast, monkeypatch):
    make_rota(cast)
    monkeypatch.setattr(services, "enqueue", lambda *args, **kwargs: None)
    first = ask_for_plan(academy=cast.academy, weeks=2, time_limit_s=10, actor=cast.ines, now=MADE_AT)
    RotaProposal.objects.update(state="computing")
    later = MADE_AT + GRACE + timedelta(seconds=11)
    ask_for_plan(academy=cast.academy, weeks=2, time_limit_s=10, actor=cast.ines, now=later)
    first.refresh_from_db()
    assert first.state == "failed"
