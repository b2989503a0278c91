from importlib import import_module

from django.apps import AppConfig

from academy.field_words import speak_plainly

speak_plainly()  # here, because this file is read before any form


class AcademyConfig(AppConfig):
    name = "academy"
    verbose_name = "People and academies"

    def ready(self) -> None:
        import_module("academy.checks")  # registers them
