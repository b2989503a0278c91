import csv
import json
from io import StringIO

import pytest
from django.urls import reverse

from courses.mapping.supplies import SUPPLY_COLUMNS
from tests.factories.academy import make_member
from tests.factories.courses import make_brief


@pytest.fixture
def version(cast):
    """80 fans an eye of 5 filaments; 9, 10, 11, 10 mm above and 1 mm less below."""
    return make_brief(cast.academy, cast.ines)


def address(name, version, **changes):
    kept = {"brief_id": version.brief_id, "number": version.number, "students": 1, "nth_set": 1}
    return reverse(f"courses:{name}", kwargs=kept | changes)


def sent(answer):
    return b"".join(answer.streaming_content)


def rows(body):
    return list(csv.DictReader(StringIO(body.decode(), newline="")))


def test_the_page_counts_one_set_and_a_session(cast, client_for, version):
    page = client_for(cast.ines).get(
        reverse("courses:brief-supplies", args=[version.brief_id]), {"students": "8", "nth_set": "4"}
    )
    text = page.content.decode()
    assert "One set, 240 min" in text and "A session of 8 students, 240 min" in text
    # 240 min at a drop every 20 min are 12 drops, 96 for eight students.
    assert "Adhesive: 12 drops" in text and "Adhesive: 96 drops" in text


def test_a_cohort_is_a_session_of_its_students(cast, client_for, version):
    make_member(cast.academy, "Noor Vane", cohort=cast.cohort)
    text = (
        client_for(cast.ines).get(reverse("courses:brief-supplies", args=[version.brief_id])).content.decode()
    )
    assert "?students=3&amp;nth_set=1" in text
    assert "Spring evening, 3 students" in text


@pytest.mark.parametrize("typed", ["0", "61", "many", ""])
def test_an_impossible_number_of_students_gets_a_sentence_and_stays_typed(cast, client_for, version, typed):
    page = client_for(cast.ines).get(
        reverse("courses:brief-supplies", args=[version.brief_id]), {"students": typed, "nth_set": "4"}
    )
    assert page.context["form"].errors["students"]
    assert page.context["sheet"].supplies.students == 1
    assert page.context["sheet"].stage.minutes == 240
    assert f'value="{typed}"' in page.content.decode() or not typed


def test_the_data_form_is_plain_csv_that_adds_up(cast, client_for, version):
    answer = client_for(cast.ines).get(address("supplies-data", version, students=3))
    body = sent(answer)
    assert answer["Content-Type"] == "text/csv; charset=utf-8; header=present"
    assert body.startswith(b'"students","item","diameter_mm"') and body.endswith(b"\r\n")
    found = rows(body)
    assert tuple(found[0]) == SUPPLY_COLUMNS
    filaments = [row for row in found if row["item"] == "filaments"]
    # 2 eyes of 80 fans, 5 filaments each, three students.
    assert sum(int(row["fans"]) for row in filaments) == 480
    assert sum(int(row["filaments"]) for row in filaments) == 2400
    assert {row["length_mm"] for row in filaments} == {"8", "9", "10", "11"}
    assert {(row["diameter_mm"], row["curl"]) for row in filaments} == {("0.05", "C")}
    # 300 min at a drop every 20 min, three students.
    assert [row["drops"] for row in found if row["item"] == "adhesive"] == ["45"]


def test_the_form_for_spreadsheets_differs_by_its_mark_only(cast, client_for, version):
    """UTF-8 byte order mark: EF BB BF."""
    client, url = client_for(cast.ines), address("supplies-data", version)
    plain, sheet = sent(client.get(url)), sent(client.get(url, {"for": "spreadsheets"}))
    assert sheet == b"\xef\xbb\xbf" + plain


def test_data_and_description_find_each_other_by_name(cast, client_for, version):
    """W3C, Model for Tabular Data and Metadata on the Web, 5.3: the description of X is X-metadata.json."""
    client = client_for(cast.ines)
    data, described = (
        client.get(address(name, version, students=2)) for name in ("supplies-data", "supplies-metadata")
    )
    file = f"brief-{version.brief_id}-version-1-set-1-students-2.csv"
    assert data["Content-Disposition"] == f'attachment; filename="{file}"'
    assert described["Content-Disposition"] == f'attachment; filename="{file}-metadata.json"'
    assert described["Content-Type"] == "application/csvm+json"
    assert json.loads(described.content)["url"] == file
    sent(data)


def test_the_description_tells_every_column_its_type(cast, client_for, version):
    client = client_for(cast.ines)
    described = json.loads(client.get(address("supplies-metadata", version)).content)
    columns = described["tableSchema"]["columns"]
    assert tuple(column["name"] for column in columns) == SUPPLY_COLUMNS
    reads = {"integer": int, "decimal": float, "string": str}
    for row in rows(sent(client.get(address("supplies-data", version)))):
        for column in columns:
            value = row[column["titles"]]
            assert value or not column["required"]
            if value:
                reads[column["datatype"]](value)


@pytest.mark.parametrize("changes", [{"students": 0}, {"students": 61}, {"nth_set": 0}, {"number": 9}])
def test_files_nobody_could_want_are_not_here(cast, client_for, version, changes):
    client = client_for(cast.ines)
    for name in ("supplies-data", "supplies-metadata"):
        assert client.get(address(name, version, **changes)).status_code == 404
