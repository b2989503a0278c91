"""No form of the product answers with the framework's stock sentences; each says what to do."""

import ast
import inspect
import pkgutil
from collections.abc import Iterator
from importlib import import_module

import pytest
from django import forms
from django.core import validators
from django.forms import fields as stock_fields
from django.forms import models as stock_models

from academy.field_words import WORDS

ROOMS = ("academy", "courses", "assessments", "allauth.account", "allauth.mfa", "allauth.usersessions")
TELLING_VERBS = (
    *("Fill", "Enter", "Choose", "Shorten", "Tick", "Type", "Use", "Reload", "Compare", "Give", "Say", "Add"),
    *(
        "Write",
        "Correct",
        "Pick",
        "Set",
        "Name",
        "Put",
        "Draw",
        "Look",
        "Sign",
        "Ask",
        "Leave",
        "Wait",
        "Copy",
    ),
)


def stock_sentences() -> set[str]:
    """As they stand in the source of the framework, whatever has been done to its classes since."""
    found = set()
    for module in (stock_fields, stock_models, validators):
        for node in ast.walk(ast.parse(inspect.getsource(module))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") in {
                "_",
                "gettext",
                "ngettext_lazy",
            }:
                found |= {part.value for part in node.args if isinstance(part, ast.Constant)}
    return {words for words in found if isinstance(words, str)}


STOCK = stock_sentences()


def forms_of_the_product() -> Iterator[type[forms.BaseForm]]:
    for room in ROOMS:
        package = import_module(room)
        for info in pkgutil.walk_packages(package.__path__, f"{room}."):
            if ".forms" in info.name and ".tests" not in info.name and "headless" not in info.name:
                module = import_module(info.name)
                for _, form in inspect.getmembers(module, inspect.isclass):
                    if issubclass(form, forms.BaseForm) and form.__module__ == info.name:
                        yield form


FORMS = list(forms_of_the_product())


def kinds_of_field(kind: type[forms.Field] = forms.Field) -> Iterator[type[forms.Field]]:
    yield kind
    for narrower in kind.__subclasses__():
        yield from kinds_of_field(narrower)


def test_the_walk_meets_forms_of_every_room():
    rooms = {form.__module__.partition(".")[0] for form in FORMS}
    assert rooms == {"academy", "courses", "assessments", "allauth"}
    assert len(FORMS) > 50
    assert {"This field is required.", "Enter a whole number."} < STOCK


@pytest.mark.parametrize("form", FORMS, ids=lambda form: f"{form.__module__}.{form.__name__}")
def test_no_field_answers_with_a_stock_sentence(form: type[forms.Form]):
    for name, field in form.base_fields.items():
        for code, words in field.error_messages.items():
            assert str(words) not in STOCK, f"{name}, {code}"
        unsaid = {getattr(check, "code", "") for check in field.validators if getattr(check, "message", "")}
        for code in unsaid - set(field.error_messages) - {"invalid"}:
            raise AssertionError(f"{name} has no words of its own for {code}")


@pytest.mark.parametrize(
    "kind", sorted(set(kinds_of_field()), key=str), ids=lambda kind: f"{kind.__module__}.{kind.__name__}"
)
def test_neither_does_a_field_that_a_form_adds_while_it_is_made(kind: type[forms.Field]):
    """Of every kind there is, whoever wrote it."""
    for ancestor in kind.__mro__:
        for words in getattr(ancestor, "default_error_messages", {}).values():
            assert str(words) not in STOCK


@pytest.mark.parametrize(
    ("field", "entered", "sentence"),
    [
        (forms.CharField(), "", "Fill this in."),
        (forms.CharField(max_length=3), "abcd", "This has 4 characters. Shorten it to 3."),
        (forms.CharField(max_length=3, error_messages={"required": "Say why."}), "", "Say why."),
        (forms.IntegerField(), "x", "This is no whole number. Enter one in digits, such as 12."),
        (forms.IntegerField(min_value=5), "4", "This is too small. Enter 5 or more."),
        (forms.IntegerField(max_value=5), "6", "This is too large. Enter 5 or less."),
        (forms.DecimalField(max_digits=3, decimal_places=1), "1.25", "This is too fine."),
        (forms.DecimalField(max_digits=3, decimal_places=1), "nan", "This is no number."),
        (forms.DateField(), "yesterday", "This is no day."),
        (forms.TimeField(), "noon", "This is no time."),
        (forms.EmailField(), "ada", "This is no e-mail address."),
        (forms.ChoiceField(choices=[("a", "A")]), "", "Choose one."),
        (forms.ChoiceField(choices=[("a", "A")]), "b", "What was chosen is not on the list."),
        (forms.MultipleChoiceField(choices=[("a", "A")]), [], "Choose one or more."),
        (forms.BooleanField(), False, "Tick this to go on."),
        (forms.FileField(), None, "Choose a file."),
    ],
    ids=lambda given: type(given).__name__ if isinstance(given, forms.Field) else str(given),
)
def test_what_is_wrong_and_what_to_do(field: forms.Field, entered: object, sentence: str):
    with pytest.raises(forms.ValidationError) as problem:
        field.clean(entered)
    assert problem.value.messages[0].startswith(sentence)


def test_every_sentence_tells_what_to_do():
    for words in WORDS.values():
        for sentence in words.values():
            assert sentence.endswith(".")
            assert any(verb in sentence for verb in TELLING_VERBS), sentence
