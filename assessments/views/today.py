from django.http import HttpRequest, HttpResponse


def today(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written
