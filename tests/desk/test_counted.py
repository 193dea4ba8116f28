"""What a depot counts of its teach points: written down, corrected, taken back, weighed by every tour from then on."""

from __future__ import annotations

import html
import re

import pytest
from django.core.exceptions import PermissionDenied

from keyhook.depot.depot import Counted
from keyhook.errors import UnknownName
from keyhook_desk.hires.models import HireRow
from keyhook_desk.walkround.views import held_tour
from keyhook_desk.web.errors import EditedMeanwhile
from keyhook_desk.web.models import HistoryLine
from keyhook_desk.yard.count_services import count_point
from keyhook_desk.yard.models import DepotRow
from keyhook_desk.yard.services import folder_of_desk, take_in_folder, the_depot

LIST, AWNING, BLADE = "/teach-points/", "/teach-points/aw_wind/", "/teach-points/cs_blade/"


def words_of(response):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", response.content.decode())).split())


def worth_of(point):
    """What showing a point on the tour of a hire saves, as the page of the tour has it."""
    return held_tour(HireRow.objects.select_related("vehicle__sheet").get(name="H12")).composed.known[point].value_cost


def test_the_list_says_of_each_count_whose_it_is(desk, depot, own):
    count_point(actor=own, point="cs_blade", counted=Counted(hires=50, harmed=4), seen=None)
    said = words_of(desk.get(LIST))
    assert "13 of 610 hires came back with it, counted in the folder" in said
    assert "4 of 50 hires came back with it, counted on the desk" in said
    assert "Nothing counted. The catalogue expects it in" in said


def test_the_list_is_searched_and_narrowed_to_what_was_counted(desk, depot):
    only = desk.get(LIST, {"only": "counted"}).content.decode()
    assert len(re.findall(r'href="/teach-points/\w', only)) == len(depot.depot.learnt)
    found = words_of(desk.get(LIST, {"words": "AWNING wind"}))
    assert "Keep the awning in when it is windy" in found
    assert "Take diesel only" not in found
    assert "0 points with “moonlight”" in words_of(desk.get(LIST, {"words": "moonlight"}))


def test_a_count_written_down_weighs_in_the_tour_at_once_and_leaves_a_line(desk, depot, own):
    """Three times what the catalogue expects (0.05 x 0.25 x 0.3 of 100,000), so many that its own two hardly weigh."""
    before = worth_of("hd_wind")
    answer = desk.post("/teach-points/hd_wind/", {"hires": "100000", "harmed": "1125", "seen": ""}, follow=True)
    assert "Every tour from now on weighs it" in words_of(answer)
    assert worth_of("hd_wind") == pytest.approx(3 * before, rel=0.01)
    line = HistoryLine.objects.get(kind="teach point", name="hd_wind")
    assert (line.by, line.said) == (own, "1125 of 100000 hires")
    assert "1125 of 100000 hires, by" in words_of(answer)


def test_what_the_desk_counts_comes_before_the_folder_until_it_is_taken_back(desk, depot):
    folder_says = the_depot().learnt["aw_wind"]
    desk.post(AWNING, {"hires": "700", "harmed": "2", "seen": ""})
    assert the_depot().learnt["aw_wind"] == Counted(hires=700, harmed=2)
    said = words_of(desk.get(AWNING))
    assert "2 of 700 hires, counted on the desk: this holds" in said
    assert "The folder says 13 of 610; that does not count" in said
    desk.post(AWNING, {"take_back": "yes", "seen": "2/700"})
    assert the_depot().learnt["aw_wind"] == folder_says
    assert "from the depot's folder" in words_of(desk.get(AWNING))


def test_a_folder_taken_in_again_leaves_what_the_desk_has_counted(depot, own, folder):
    count_point(actor=own, point="aw_wind", counted=Counted(hires=700, harmed=2), seen=None)
    take_in_folder(actor=own, folder=folder)
    assert the_depot().learnt["aw_wind"] == Counted(hires=700, harmed=2)


def test_the_folder_given_back_holds_what_the_desk_has_counted_and_reads_the_same_again(depot, own):
    count_point(actor=own, point="cs_blade", counted=Counted(hires=50, harmed=4), seen=None)
    given = folder_of_desk()
    assert given.depot.learnt["cs_blade"] == Counted(hires=50, harmed=4)
    DepotRow.objects.update(counted={})
    take_in_folder(actor=own, folder=given)
    assert folder_of_desk().depot == given.depot


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"hires": "", "harmed": "3"}, "The number of hires cannot be this (saw nothing)"),
        ({"hires": "many", "harmed": "3"}, "The number of hires cannot be this (saw many)"),
        ({"hires": "40", "harmed": "-1"}, "The number of those that came back with it cannot be this (saw -1)"),
        ({"hires": "40", "harmed": "2.5"}, "The number of those that came back with it cannot be this (saw 2.5)"),
        ({"hires": "40", "harmed": "41"}, "More came back with it than there were hires (saw 41 of 40)"),
        ({"hires": "9000000", "harmed": "4"}, "Write a whole number from 0 to 1,000,000"),
        ({"hires": "²", "harmed": "4"}, "The number of hires cannot be this (saw ²)"),
    ],
)
def test_what_cannot_be_counted_is_said_beside_its_field_and_stays_as_typed(desk, depot, typed, said):
    answer = desk.post(BLADE, {**typed, "seen": ""})
    assert said in words_of(answer)
    for key, value in typed.items():
        assert re.search(rf'name="{key}"[^>]* value="{re.escape(value)}"', html.unescape(answer.content.decode()))
    assert "cs_blade" not in the_depot().learnt
    assert not HistoryLine.objects.filter(kind="teach point").exists()


def test_of_two_people_who_count_at_once_the_second_is_told_and_nothing_is_lost(desk, browser_of, colleague, depot):
    desk.post(BLADE, {"hires": "40", "harmed": "1", "seen": ""})
    answer = browser_of(colleague).post(BLADE, {"hires": "60", "harmed": "2", "seen": ""})
    assert answer.status_code == 409
    assert "Somebody else wrote down what was counted of this meanwhile" in words_of(answer)
    assert the_depot().learnt["cs_blade"] == Counted(hires=40, harmed=1)


def test_the_same_count_sent_twice_leaves_one_line(depot, own):
    once = Counted(hires=40, harmed=1)
    count_point(actor=own, point="cs_blade", counted=once, seen=None)
    count_point(actor=own, point="cs_blade", counted=once, seen=once)
    assert HistoryLine.objects.filter(kind="teach point").count() == 1


def test_a_yard_hand_sees_the_counts_without_a_way_to_write_and_is_refused(browser_of, yardhand, depot):
    page = browser_of(yardhand).get(AWNING)
    assert "The desk and managers write counts down" in words_of(page)
    assert 'name="hires"' not in page.content.decode()
    assert browser_of(yardhand).post(AWNING, {"hires": "40", "harmed": "1", "seen": ""}).status_code == 403
    with pytest.raises(PermissionDenied, match="Ask a manager"):
        count_point(actor=yardhand, point="aw_wind", counted=None, seen=None)


def test_a_point_that_is_not_there_is_said(desk, depot, own):
    assert desk.get("/teach-points/aw_moon/").status_code == 404
    with pytest.raises(UnknownName, match="aw_moon"):
        count_point(actor=own, point="aw_moon", counted=None, seen=None)


def test_somebody_elses_count_is_named_with_what_stands_now(depot, own):
    count_point(actor=own, point="cs_blade", counted=Counted(hires=40, harmed=1), seen=None)
    with pytest.raises(EditedMeanwhile, match="1 of 40 hires"):
        count_point(actor=own, point="cs_blade", counted=Counted(hires=41, harmed=1), seen=Counted(hires=9, harmed=0))
