import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "academy.settings")

app = Celery("fanlight")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
