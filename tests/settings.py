"""The real settings, made quick and quiet: fast hasher, tasks in this process, letters kept in memory."""

import os
from pathlib import Path

_HERE = Path(__file__).resolve().parent.parent
os.environ.setdefault("FANLIGHT_SECRET_KEY", "only-for-tests-and-known-to-everyone-who-reads-this")
os.environ.setdefault("FANLIGHT_KEYS_PASSPHRASE", "only-for-tests-too-and-locks-keys-that-sign-nothing-real")
os.environ.setdefault("FANLIGHT_DATA_DIR", str(_HERE / ".test"))
os.environ.setdefault("FANLIGHT_HTTPS", "0")  # the test client and the live server speak plain http
os.environ.setdefault("FANLIGHT_STAFF_MFA", "0")  # its own tests turn it on
os.environ.setdefault("FANLIGHT_LOG_LEVEL", "WARNING")

from academy.settings import *
from academy.settings import CACHES as _CACHES
from academy.settings import DATA_DIR, DATABASES, REDIS_URL, STATIC_ROOT, STORAGES

if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # A file, as in real use: in memory, people who write at the same instant are refused instead of waiting.
    DATABASES["default"]["TEST"] = {"NAME": DATA_DIR / f"test-{os.getpid()}.sqlite3"}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
CACHES = {
    name: {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": name} for name in _CACHES
}
STORAGES = {**STORAGES, "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
STORAGES["default"] = {"BACKEND": "django.core.files.storage.InMemoryStorage"}
KEYS_DIR = DATA_DIR / f"keys-{os.getpid()}"  # emptied after every test
STATIC_ROOT.mkdir(parents=True, exist_ok=True)  # WhiteNoise warns when it is missing

# The `celery_worker_process` fixture switches the first off; each xdist worker keeps a queue of its own.
CELERY_TASK_ALWAYS_EAGER = CELERY_TASK_EAGER_PROPAGATES = True
_QUEUE = os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")
CELERY_BROKER_URL = f"{REDIS_URL.rsplit('/', 1)[0]}/{_QUEUE}" if REDIS_URL else "memory://"
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 8,
    "unacked_restore_interval": 2,
    "unacked_restore_throttle": 1,
}
