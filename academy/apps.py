from importlib import import_module

from django.apps import AppConfig


class AcademyConfig(AppConfig):
    name = "academy"
    verbose_name = "People and academies"

    def ready(self) -> None:
        import_module("academy.checks")  # registers them
