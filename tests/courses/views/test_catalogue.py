from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from courses.models import Fault
from courses.services.catalogue import load_catalogue


def test_every_member_reads_what_each_fault_means_and_its_drill(cast, client_for):
    load_catalogue()
    for member in (cast.owner, cast.ines, cast.ada):
        page = client_for(member).get(reverse("courses:catalogue"))
        assert page.status_code == 200
        text = page.content.decode()
        assert text.count('<article class="sheet">') == Fault.objects.count()
        assert "Done at 20 clean isolations with adhesive." in text


def test_an_empty_catalogue_says_what_to_do(cast, client_for):
    page = client_for(cast.ada).get(reverse("courses:catalogue"))
    assert "load_catalogue" in page.content.decode()


def test_nobody_reads_it_without_signing_in(client, db):
    assert client.get(reverse("courses:catalogue")).status_code == 302


def test_the_page_costs_the_same_with_few_and_with_all_faults(cast, client_for):
    load_catalogue()
    client = client_for(cast.ada)

    def queries():
        with CaptureQueriesContext(connection) as seen:
            client.get(reverse("courses:catalogue"))
        return len(seen)

    queries()
    with_all = queries()
    Fault.objects.exclude(code="STK").delete()
    assert queries() == with_all
