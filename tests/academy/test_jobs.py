"""Background work starts after the commit, and never undoes what was saved."""

import pytest
from django.db import transaction

from academy import jobs
from academy.jobs import enqueue
from academy.tasks import send_invitation

TASK = "academy.tasks.send_invitation"


@pytest.fixture
def queued(monkeypatch):
    calls = []
    monkeypatch.setattr(send_invitation, "delay", lambda **kwargs: calls.append(kwargs))
    return calls


@pytest.mark.django_db(transaction=True)
def test_work_is_queued_once_the_transaction_has_committed(queued):
    with transaction.atomic():
        enqueue(TASK, invitation_id=7)
        assert queued == []
    assert queued == [{"invitation_id": 7}]


@pytest.mark.django_db(transaction=True)
def test_nothing_is_queued_when_the_transaction_is_rolled_back(queued):
    with transaction.atomic():
        enqueue(TASK, invitation_id=7)
        transaction.set_rollback(True)
    assert queued == []


@pytest.mark.django_db
def test_a_misspelt_task_fails_at_the_call():
    with pytest.raises(ImportError):
        enqueue("academy.tasks.sned_invitation", invitation_id=7)


@pytest.mark.django_db(transaction=True)
def test_a_broker_out_of_reach_is_logged_and_fails_nobodys_page(monkeypatch, caplog):
    def refuse(**kwargs):
        raise ConnectionError("no broker")

    monkeypatch.setattr(send_invitation, "delay", refuse)
    with transaction.atomic():
        jobs.enqueue(TASK, invitation_id=7)
    assert "no broker" in caplog.text
