from django.http import HttpRequest, HttpResponse


def student_list(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def student(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def student_sets(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def stand(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def next_practice(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written


def my_sets(request: HttpRequest, **kwargs: object) -> HttpResponse:
    raise NotImplementedError  # being written
