"""What an owner types about a programme."""

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from django import forms

from academy.forms import DateInput
from academy.models import Purpose
from courses.models import ProgrammeVersion, UnitKind
from courses.programme.content import CertificateRules, Gate, ProgrammeContent, Unit
from courses.programme.problems import ProgrammeProblem

EMPTY_UNITS, MOST_UNITS = 3, 60
LIST_OF_UNITS = {
    "too_many_forms": f"A programme has at most {MOST_UNITS} units. Empty the titles of those to leave out.",
    "missing_management_form": "This page is out of date. Reload it, then enter it again.",
}
LEVEL_CHOICES = [("", "not asked"), *((str(level), f"level {level}") for level in range(1, 5))]
GROUPS = (
    ("hours", "Hours", ("theory_hours", "practical_hours", "hours_source", "hours_source_on")),
    (
        "gate",
        "Gate to live models",
        (
            *("theory_units", "gate_theory_hours", "gate_practical_hours", "hygiene_sets"),
            *("gate_graded_sets", "competence", "mastery", "blind_mark", "consent", "lapse_days"),
        ),
    ),
    (
        "certificate",
        "Certificate",
        ("scope", "all_units", "gate_open_once", "graded_sets", "valid_months"),
    ),
)


def _hours(label: str, help_text: str = "") -> forms.DecimalField:
    return forms.DecimalField(
        label=label,
        help_text=help_text,
        required=False,
        min_value=0,
        max_value=9999,
        max_digits=6,
        decimal_places=2,
    )


def _count(label: str, most: int, *, required: bool = False, help_text: str = "") -> forms.IntegerField:
    return forms.IntegerField(
        label=label, required=required, min_value=1, max_value=most, help_text=help_text
    )


def _tick(label: str) -> forms.BooleanField:
    return forms.BooleanField(label=label, required=False)


class NameForm(forms.Form):
    name = forms.CharField(
        label="Name of the programme", max_length=80, help_text="It stands on the certificate."
    )


class UnitForm(forms.Form):
    """One line of the list of units; without a title there is none."""

    code = forms.CharField(required=False, widget=forms.HiddenInput)
    place = forms.IntegerField(required=False, min_value=1, max_value=999)
    title = forms.CharField(required=False, max_length=120)
    kind = forms.ChoiceField(choices=UnitKind.choices)
    before_live = forms.BooleanField(label="Before live models", required=False)

    def __init__(self, *args: Any, known: frozenset[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known = known

    def clean_code(self) -> str:
        code: str = self.cleaned_data["code"]
        return code if code in self.known else ""

    def unit(self) -> Unit:
        data = self.cleaned_data
        return Unit(data["title"].strip(), data["kind"], data["before_live"], data["code"])


UnitFormSet = forms.formset_factory(
    UnitForm, extra=EMPTY_UNITS, max_num=MOST_UNITS, absolute_max=MOST_UNITS + EMPTY_UNITS, validate_max=True
)


class ProgrammeDraftForm(forms.Form):
    """A whole draft in one form, so that saving one part never loses another."""

    theory_hours = _hours("Theory hours", "Needed to publish; 0 if your programme asks for none.")
    practical_hours = _hours("Practical hours", "Needed to publish; 0 if your programme asks for none.")
    hours_source = forms.CharField(
        label="Where these hours come from",
        required=False,
        max_length=400,
        help_text="Needed to publish: the rule or board you read them in, or your own decision. Hours "
        "differ from place to place, and rules change: what you write here is all that anyone can go back "
        "to.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    hours_source_on = forms.DateField(
        label="Last checked there on", required=False, help_text="Needed to publish.", widget=DateInput
    )

    theory_units = _tick("Every unit marked “before live models” is signed off")
    gate_theory_hours = _hours("Theory hours before the gate", "Empty: not asked.")
    gate_practical_hours = _hours("Practical hours before the gate", "Empty: not asked.")
    hygiene_sets = _count("Last sets in which every hygiene line is signed", 20, required=True)
    gate_graded_sets = _count("Graded sets before the gate", 999, help_text="Empty: no number asked.")
    competence = _tick("Every gate skill is declared competent")
    mastery = _tick("The mastery conditions are met")
    blind_mark = _tick("At least one set was also marked blind by another educator")
    consent = forms.MultipleChoiceField(
        label="Consents the student has given",
        choices=Purpose.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    lapse_days = _count("Days without a graded set after which the gate closes again", 730, required=True)

    scope = forms.CharField(
        label="What the certificate covers",
        required=False,
        max_length=300,
        help_text="Needed to publish. One sentence, for example: Classic singles and open volume fans, on "
        "mannequin heads and supervised live models. A training certificate is not a licence.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    all_units = _tick("Every unit is signed off")
    gate_open_once = _tick("The gate to live models was opened at least once")
    graded_sets = _count("Graded sets for the certificate", 999, help_text="Empty: no number asked.")
    valid_months = _count("Months it holds", 240, help_text="Empty: without an end.")

    def __init__(
        self, draft: ProgrammeVersion, skills: Mapping[str, str], data: Mapping[str, Any] | None
    ) -> None:
        content = draft.content
        self.skills = skills
        super().__init__(data, initial=_initial(content))
        for code, name in skills.items():
            self.fields[f"level_{code}"] = forms.ChoiceField(
                label=name, choices=LEVEL_CHOICES, required=False
            )
        known = frozenset(unit.code for unit in content.units)
        rows = [_row(place, unit) for place, unit in enumerate(content.units, 1)]
        self.units = UnitFormSet(
            data,
            initial=rows,
            prefix="unit",
            form_kwargs={"known": known},
            error_messages=LIST_OF_UNITS,
        )

    def is_valid(self) -> bool:
        return super().is_valid() & self.units.is_valid()

    def content(self) -> ProgrammeContent:
        data = self.cleaned_data
        return ProgrammeContent(
            units=self._units(),
            theory_hours=data["theory_hours"],
            practical_hours=data["practical_hours"],
            hours_source=data["hours_source"].strip(),
            hours_source_on=data["hours_source_on"],
            gate=self._gate(),
            certificate=self._certificate(),
        )

    def show_problems(self, problems: Iterable[ProgrammeProblem]) -> None:
        """Beside the field each is about, or at the top."""
        for problem in problems:
            self.add_error(problem.field if problem.field in self.fields else None, problem.message)

    def groups(self) -> Iterator[tuple[str, str, list[forms.BoundField]]]:
        for key, heading, names in GROUPS:
            yield key, heading, [self[name] for name in names]

    def level_fields(self) -> list[forms.BoundField]:
        return [self[f"level_{code}"] for code in self.skills]

    def _units(self) -> tuple[Unit, ...]:
        rows = [row for row in self.units.forms if row.cleaned_data.get("title", "").strip()]
        places = [row.cleaned_data["place"] or MOST_UNITS + at for at, row in enumerate(rows)]
        in_order = sorted(range(len(rows)), key=places.__getitem__)
        return tuple(rows[at].unit() for at in in_order)

    def _gate(self) -> Gate:
        data = self.cleaned_data
        return Gate(
            theory_units=data["theory_units"],
            theory_hours=data["gate_theory_hours"],
            practical_hours=data["gate_practical_hours"],
            hygiene_sets=data["hygiene_sets"],
            graded_sets=data["gate_graded_sets"],
            competence=data["competence"],
            mastery=data["mastery"],
            blind_mark=data["blind_mark"],
            consent=tuple(data["consent"]),
            lapse_days=data["lapse_days"],
        )

    def _certificate(self) -> CertificateRules:
        data = self.cleaned_data
        levels = {code: data[f"level_{code}"] for code in self.skills}
        return CertificateRules(
            all_units=data["all_units"],
            gate_open_once=data["gate_open_once"],
            graded_sets=data["graded_sets"],
            valid_months=data["valid_months"],
            scope=data["scope"].strip(),
            min_levels={code: int(level) for code, level in levels.items() if level},
        )


def _row(place: int, unit: Unit) -> dict[str, object]:
    return {
        "code": unit.code,
        "place": place,
        "title": unit.title,
        "kind": unit.kind,
        "before_live": unit.before_live,
    }


def _initial(content: ProgrammeContent) -> dict[str, Any]:
    gate, certificate = content.gate, content.certificate
    same = ("theory_hours", "practical_hours", "hours_source", "hours_source_on")
    of_gate = ("theory_units", "hygiene_sets", "competence", "mastery", "blind_mark", "lapse_days")
    of_certificate = ("all_units", "gate_open_once", "graded_sets", "valid_months", "scope")
    return {
        **{name: _typed(getattr(content, name)) for name in same},
        **{name: getattr(gate, name) for name in of_gate},
        **{f"gate_{name}": _typed(getattr(gate, name)) for name in same[:2]},
        "gate_graded_sets": gate.graded_sets,
        "consent": list(gate.consent),
        **{name: getattr(certificate, name) for name in of_certificate},
        **{f"level_{code}": str(level) for code, level in certificate.min_levels.items()},
    }


def _typed(value: object) -> object:
    """Hours as somebody would type them: 12, not 12.00."""
    return f"{value.normalize():f}" if isinstance(value, Decimal) else value
