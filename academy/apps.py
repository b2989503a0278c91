from django.apps import AppConfig


class AcademyConfig(AppConfig):
    name = "academy"
    verbose_name = "People and academies"
