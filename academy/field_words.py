"""What a field of any form says when it cannot take what was entered: a sentence that tells what to do."""

from collections.abc import Mapping
from types import MappingProxyType

from django import forms
from django.forms.models import InlineForeignKeyField

_STALE = "This page is out of date. Reload it, then enter it again."
_TOO_LONG = "This has %(show_value)d characters. Shorten it to %(limit_value)d."
_NUMBER = {
    "min_value": "This is too small. Enter %(limit_value)s or more.",
    "max_value": "This is too large. Enter %(limit_value)s or less.",
    "step_size": "Enter a multiple of %(limit_value)s.",
}

WORDS: Mapping[type[forms.Field], Mapping[str, str]] = MappingProxyType(
    {
        forms.Field: {"required": "Fill this in."},
        forms.CharField: {
            "max_length": _TOO_LONG,
            "min_length": "This has %(show_value)d characters. Enter %(limit_value)d or more.",
            "null_characters_not_allowed": "There is an invisible character in it. Type it again.",
        },
        forms.EmailField: {"invalid": "This is no e-mail address. Enter one such as name@place.example."},
        forms.URLField: {"invalid": "This is no web address. Enter one such as https://place.example."},
        forms.SlugField: {"invalid": "Use letters, digits, hyphens and underscores only, and no spaces."},
        forms.RegexField: {"invalid": "This is not written as it should be. Compare it with the example."},
        forms.UUIDField: {"required": _STALE, "invalid": _STALE},
        forms.JSONField: {"invalid": _STALE},
        forms.IntegerField: {
            "invalid": "This is no whole number. Enter one in digits, such as 12.",
            **_NUMBER,
        },
        forms.FloatField: {"invalid": "This is no number. Enter one in digits, such as 2.5."},
        forms.DecimalField: {
            "invalid": "This is no number. Enter one in digits, such as 2.5.",
            "max_digits": "This has too many digits. Enter at most %(max)s.",
            "max_decimal_places": "This is too fine. Enter at most %(max)s digits after the point.",
            "max_whole_digits": "This is too large. Enter at most %(max)s digits before the point.",
        },
        forms.DateField: {"invalid": "This is no day. Enter year, month and day, such as 2026-03-02."},
        forms.TimeField: {"invalid": "This is no time. Enter hours and minutes, such as 09:30."},
        forms.DateTimeField: {"invalid": "This is no day and time. Enter both, such as 2026-03-02 09:30."},
        forms.DurationField: {
            "invalid": "This is no length of time. Enter hours, minutes and seconds, such as 1:30:00.",
            "overflow": "This is too long. Enter fewer days.",
        },
        forms.BooleanField: {"required": "Tick this to go on."},
        forms.ChoiceField: {
            "required": "Choose one.",
            "invalid_choice": "What was chosen is not on the list. Choose from the list.",
        },
        forms.MultipleChoiceField: {
            "required": "Choose one or more.",
            "invalid_choice": "What was chosen is not on the list. Choose from the list.",
            "invalid_list": _STALE,
        },
        forms.ModelChoiceField: {"invalid_choice": "What was chosen is no longer there. Choose again."},
        forms.ModelMultipleChoiceField: {
            "required": "Choose one or more.",
            "invalid_choice": "Something chosen is no longer there. Choose again.",
            "invalid_list": _STALE,
            "invalid_pk_value": _STALE,
        },
        InlineForeignKeyField: {"invalid_choice": _STALE},
        forms.MultiValueField: {"invalid": "Fill in every part.", "incomplete": "Fill in every part."},
        forms.SplitDateTimeField: {
            "invalid_date": "This is no day. Enter year, month and day, such as 2026-03-02.",
            "invalid_time": "This is no time. Enter hours and minutes, such as 09:30.",
        },
        forms.FileField: {
            "required": "Choose a file.",
            "invalid": "No file arrived. Choose it again.",
            "missing": "No file arrived. Choose it again.",
            "empty": "The file is empty. Choose another.",
            "max_length": "The name of the file has %(length)d characters. Shorten it to %(max)d.",
            "contradiction": "Choose a file or tick the box that clears it, not both.",
        },
        forms.ImageField: {"invalid_image": "This is no picture that can be read. Choose another file."},
    }
)


def speak_plainly() -> None:
    """Give each kind of field its words, before any form is made: fields copy them when they are made.

    Done to the kinds and not to our forms, so that the pages of the sign-in library speak the same way.
    """
    for field, words in WORDS.items():
        field.default_error_messages = {**field.__dict__.get("default_error_messages", {}), **words}
