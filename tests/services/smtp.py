"""An SMTP server that keeps what it is sent and can be told to answer badly."""

import email
import email.policy
import threading
import time
from collections import deque
from collections.abc import Iterator
from email.message import EmailMessage

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session
from pytest_django import Settings

from tests.services.servers import free_port

ACCEPTED = "250 Message accepted for delivery"


class Postbox:
    """``messages`` hold what was accepted. Put SMTP answers into ``replies``: one is used per attempt."""

    def __init__(self) -> None:
        self.host = "127.0.0.1"
        self.port = 0
        self.messages: list[EmailMessage] = []
        self.replies: deque[str] = deque()
        self.attempts = 0
        self._changed = threading.Condition()

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        del server, session
        content = envelope.content or b""
        raw = content.encode() if isinstance(content, str) else content
        with self._changed:
            self.attempts += 1
            answer = self.replies.popleft() if self.replies else ACCEPTED
            if answer.startswith("2"):
                message = email.message_from_bytes(raw, EmailMessage, policy=email.policy.default)
                self.messages.append(message)
            self._changed.notify_all()
        return answer

    def wait_for(self, count: int, *, limit_s: float = 20) -> list[EmailMessage]:
        """Return the messages once there are ``count``; fail the test when they do not come in time."""
        give_up = time.monotonic() + limit_s
        with self._changed:
            while len(self.messages) < count:
                if not self._changed.wait(give_up - time.monotonic()):
                    pytest.fail(f"{len(self.messages)} of {count} letters arrived within {limit_s} s")
            return list(self.messages)


@pytest.fixture
def smtp_server(settings: Settings) -> Iterator[Postbox]:
    """A real SMTP server; mail that this process sends goes to it, as does that of the worker process."""
    postbox = Postbox()
    postbox.port = free_port()
    controller = Controller(postbox, hostname=postbox.host, port=postbox.port)
    controller.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = postbox.host, postbox.port
    settings.EMAIL_USE_TLS = False
    try:
        yield postbox
    finally:
        controller.stop()
