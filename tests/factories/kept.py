"""A page whose parts are kept, read as it is kept and as it is made anew."""

import re

from django.core.cache import caches
from django.test import Client

# What differs between two requests for the same page, and is never part of what is kept.
LIVE = re.compile(r'name="csrfmiddlewaretoken" value="\w+"|data-left-s="\d+"')


def shown(client: Client, url: str) -> str:
    answer = client.get(url)
    assert answer.status_code == 200
    return LIVE.sub("", answer.content.decode())


def made_anew(client: Client, url: str) -> str:
    caches["parts"].clear()
    return shown(client, url)
