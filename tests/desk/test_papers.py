"""Papers: valid tagged PDF, the same bytes for the same day, hostile text harmless, sizes never understated."""

from __future__ import annotations

import datetime as dt
import io

import page
import pytest
from keyhook_desk.papers.compose import cab_card_data, loading_sheet_data
from pypdf import PdfReader

from keyhook.catalogue import load_catalogue
from keyhook.dossier import hire_loading
from keyhook.loading.packing import steps
from keyhook.phrases import say
from keyhook_desk.hires.models import HireRow
from keyhook_desk.papers.setting import set_paper

DAY = dt.date(2026, 7, 10)
NASTY = '#panic("x") \\ $1/0$ *bold* _x_ <script> & "quotes" @ref [[ ]] ' + "W" * 150


def _sheet(folder, name, lead=None):
    found = hire_loading(folder, name, load_catalogue())
    hire = found.hire if lead is None else found.hire.model_copy(update={"lead": lead, "note": lead})
    said = tuple(say(s.code, s.values) for s in steps(found.change, found.sheet, found.answer)) if found.change else ()
    return loading_sheet_data(found.answer, said, hire, found.sheet, found.vehicle, folder.depot, DAY)


def _card(folder, name):
    found = hire_loading(folder, name, load_catalogue())
    return cab_card_data(found.answer.cab_card, found.sheet, found.vehicle, folder.depot, DAY)


def _words(pdf):
    return " ".join(" ".join(leaf.extract_text() for leaf in PdfReader(io.BytesIO(pdf)).pages).split())


@pytest.mark.parametrize("name", ["H10", "H12", "H13", "H17"])
@pytest.mark.parametrize("profile", [page.ValidationProfile.PDF_UA_1, page.ValidationProfile.PDF_A_2A])
def test_papers_conform_to_pdf_ua_and_pdf_a(folder, name, profile):
    """Checked by an independent validator of ISO 14289-1 and ISO 19005-2."""
    for template, data in (("loading_sheet", _sheet(folder, name)), ("cab_card", _card(folder, name))):
        found = page.validate_pdf_bytes(set_paper(template, data), profile=profile)
        assert found.is_compliant, [failure.message for failure in found.failures][:5]


def test_the_same_day_gives_the_same_bytes_and_another_day_others(folder):
    data = _sheet(folder, "H12")
    assert set_paper("loading_sheet", data) == set_paper("loading_sheet", data)
    assert set_paper("loading_sheet", data) != set_paper("loading_sheet", {**data, "day": [2026, 7, 11]})


def test_a_paper_says_its_language_and_title(folder):
    reader = PdfReader(io.BytesIO(set_paper("loading_sheet", _sheet(folder, "H12"))))
    assert str(reader.trailer["/Root"]["/Lang"]).startswith("en")
    assert reader.metadata.title == "Loading sheet H12"
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]


def test_the_loading_sheet_tells_verdict_steps_and_caution(folder):
    words = _words(set_paper("loading_sheet", _sheet(folder, "H12")))
    assert "Too heavy" in words
    assert "bikes at home" in words
    assert "not a permission" in words


@pytest.mark.parametrize("lead", [NASTY, "عائلة الرمل", "家族 テスト", "Zoë 🚐 O'Brien"])
def test_whatever_somebody_is_called_prints_as_text(folder, lead):
    pdf = set_paper("loading_sheet", _sheet(folder, "H10", lead=lead[:200]))
    assert pdf.startswith(b"%PDF")
    if lead is NASTY:
        assert '#panic("x")' in _words(pdf)


def test_the_cab_card_rounds_height_up_and_gives_both_units(folder):
    """3.15 m is 10 ft 4.02 in by the international foot, so the card says 10 ft 5 in; 3500 kg is 7,716 lb."""
    words = _words(set_paper("cab_card", _card(folder, "H13")))
    assert "3.15 m" in words
    assert "10 ft 5 in" in words
    assert "7,716 lb" in words
    assert "Length with rack" in words


def test_a_hire_without_a_vehicle_is_told_so(client, depot, own):
    row = HireRow.objects.get(name="H22")
    row.vehicle = None
    row.save(update_fields=["vehicle"])
    client.force_login(own)
    for paper in ("loading", "cab-card"):
        found = client.get(f"/papers/H22/{paper}/")
        assert found.status_code == 409
        assert b"no vehicle yet" in found.content


def test_papers_come_as_pdf_and_only_to_people_who_are_logged_in(client, depot, own):
    assert client.get("/papers/H10/loading/").status_code == 302
    client.force_login(own)
    for paper in ("loading", "cab-card"):
        found = client.get(f"/papers/H10/{paper}/")
        assert found["Content-Type"] == "application/pdf"
        assert found.content.startswith(b"%PDF")
