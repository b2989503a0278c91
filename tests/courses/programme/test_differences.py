from dataclasses import replace
from decimal import Decimal

from courses.programme.content import CertificateRules, Gate, ProgrammeContent, Unit
from courses.programme.differences import Difference, differences
from courses.programme.sheet import Names

HYGIENE = Unit("Hygiene", "theory", before_live=True, code="hygiene")
REMOVAL = Unit("Removal", "practical", code="removal")
OLD = ProgrammeContent(
    units=(HYGIENE, REMOVAL),
    theory_hours=Decimal(24),
    practical_hours=Decimal(14),
    certificate=CertificateRules(scope="Singles"),
)


def found(new: ProgrammeContent):
    return differences(OLD, new, Names())


def test_the_same_content_differs_in_nothing():
    assert found(replace(OLD)) == ()


def test_hours_are_told_before_and_after():
    """Minn. R. 2110.0580: 24 + 14 hours in the text of 2017, 8 + 6 in that of December 2024."""
    new = replace(OLD, theory_hours=Decimal(8), practical_hours=Decimal(6))
    assert found(new) == (
        Difference("Theory hours", "24 h", "8 h"),
        Difference("Practical hours", "14 h", "6 h"),
    )


def test_rules_of_the_gate_and_the_certificate_are_told():
    new = replace(
        OLD, gate=Gate(graded_sets=6, mastery=False), certificate=CertificateRules(scope="Singles and fans")
    )
    assert found(new) == (
        Difference("Graded sets before the gate", "not asked", "at least 6"),
        Difference("Mastery conditions", "met", "not asked"),
        Difference("What it covers", "Singles", "Singles and fans"),
    )


def test_a_unit_is_known_by_its_code_and_told_when_it_is_new_changed_or_dropped():
    renamed = replace(HYGIENE, title="Hygiene and disinfection")
    infill = Unit("Infill", "practical", code="infill")
    assert found(replace(OLD, units=(renamed, infill))) == (
        Difference(
            "Unit",
            "Hygiene (theory, before live models)",
            "Hygiene and disinfection (theory, before live models)",
        ),
        Difference("New unit", "", "Infill (practical)"),
        Difference("Unit that is dropped", "Removal (practical)", ""),
    )


def test_another_order_of_units_changes_nothing_for_a_student():
    assert found(replace(OLD, units=(REMOVAL, HYGIENE))) == ()


def test_what_is_dropped_on_the_way_there_is_new_on_the_way_back():
    new = replace(OLD, units=(HYGIENE,), theory_hours=Decimal(8))
    there, back = differences(OLD, new, Names()), differences(new, OLD, Names())
    assert {(each.before, each.after) for each in there} == {(each.after, each.before) for each in back}
