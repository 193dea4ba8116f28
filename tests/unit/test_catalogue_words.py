"""What the catalogue says to people: gas, carbon monoxide, fire and mains in careful words, everything in sentences.

The rules are the usual advice of fire services and gas engineers: common practice.
"""

from __future__ import annotations

import re

import pytest

from keyhook.catalogue import load_catalogue
from keyhook.catalogue.texts import all_texts

TEXTS = all_texts(load_catalogue())
FITTINGS = load_catalogue().fittings
SYMPTOMS = [(fitting, symptom) for fitting in FITTINGS.values() for symptom in fitting.symptoms]
#: What people are told to do: all but what they say themselves, why a point matters, and what is asked back.
TOLD = {key: text for key, text in TEXTS.items() if not key.endswith((".says", ".why", ".ask"))}
SENTENCES = {
    key: text
    for key, text in TEXTS.items()
    if key.rsplit(".", 1)[-1] in {"text", "alone", "why", "ask", "first", "stop", "cause", "check", "fix"}
}

OUT = re.compile(r"\b(everyone|everybody)\b[^.]*\b(out|away)\b", re.IGNORECASE)
SMELL_OF_GAS = re.compile(r"smells? (of )?gas|gas smell", re.IGNORECASE)
NO_SMELL = re.compile(r"nothing smells of gas", re.IGNORECASE)
LEFT_ALONE = re.compile(r"(after|with) any smell of gas (leave it off|do not light it)", re.IGNORECASE)
GRAVE = re.compile(r"smell gas|alarm is sounding|burn|smok|tingl|\bfire\b|is hot\b|hissing", re.IGNORECASE)

#: What no text may ask for: the pattern, and a sentence that it has to catch.
FORBIDDEN = {
    "lights again": (r"\bre-?light", "Air the vehicle and relight the hob."),
    "tries again after a smell": (r"smell[^.]*try (it )?again", "When the smell has gone, try again."),
    "takes the battery out of an alarm": (
        r"(?<!never )\btake (the|a|its) battery out|(?<!never )\btake out (the|a|its) battery",
        "If it will not stop, take out the battery.",
    ),
    "silences or covers an alarm": (
        r"(?<!or )\b(silence|cover|disable|mute|take down) (the|an|its) (smoke |CO )?alarm",
        "Cover the smoke alarm while you cook.",
    ),
    "sleeps on with an alarm": (r"\bsleep (on|inside) after|back to sleep", "Open a window and go back to sleep."),
    "opens a gas or mains installation": (
        r"\b(unscrew|open|remove|take off) (the |its )?(consumer unit|cover|fuse box|regulator|gas pipe|burner)",
        "Remove the cover and look at the burner.",
    ),
    "tightens a gas joint": (r"\b(re-?)?tighten[^.]*(nut|joint|thread)", "Retighten the nut of the cylinder."),
    "leaves the handbrake off": (r"(leave|keep) the (handbrake|brake) off", "Leave the handbrake off in frost."),
    "heats while driving": (r"heat(ing|er)?( on)? while (you )?(are )?driv", "Leave the heater on while you drive."),
    "looks for a leak with a flame": (
        r"leak[^.]*(?<!never )with a (lighter|match|flame)",
        "Find the leak with a lighter.",
    ),
    "warms gas equipment": (
        r"(lukewarm|warm|hot)[^.]*(cloth|water|hands)[^.]*(regulator|cylinder)",
        "Lay a lukewarm cloth round the regulator.",
    ),
    "sends somebody on the roof": (r"(?<!nobody )(?<!not )\bclimbs? on the roof", "Climb on the roof and shut it."),
}


def _named(pairs):
    return [pytest.param(*pair, id=pair[0] if isinstance(pair[0], str) else pair[1].id) for pair in pairs]


def test_every_shipped_fitting_loads_and_can_teach_something():
    assert len(FITTINGS) >= 58
    assert all(fitting.teach and fitting.symptoms for fitting in FITTINGS.values())


@pytest.mark.parametrize(("key", "text"), _named((k, t) for k, t in TOLD.items() if SMELL_OF_GAS.search(t)))
def test_a_text_that_names_a_smell_of_gas_sends_everyone_out_or_acts_only_without_one(key, text):
    sends_out = OUT.search(text) and "open air" in text and "emergency number" in text.lower()
    assert sends_out or NO_SMELL.search(text) or LEFT_ALONE.search(text), text


@pytest.mark.parametrize("rule", FORBIDDEN)
def test_no_text_asks_for_what_must_never_be_asked(rule):
    pattern = re.compile(FORBIDDEN[rule][0], re.IGNORECASE)
    assert {key: text for key, text in TOLD.items() if pattern.search(text)} == {}


@pytest.mark.parametrize(("pattern", "sentence"), FORBIDDEN.values(), ids=FORBIDDEN)
def test_the_watch_over_the_texts_catches_such_a_sentence(pattern, sentence):
    assert re.search(pattern, sentence, re.IGNORECASE)


@pytest.mark.parametrize(("fitting", "symptom"), [pair for pair in SYMPTOMS if pair[1].emergency], ids=lambda v: v.id)
def test_an_emergency_begins_with_everyone_out_and_ends_with_a_qualified_person(fitting, symptom):
    assert symptom.first.startswith("Everyone out into the open air now")
    assert "ing the emergency number from outside" in symptom.first
    assert "qualified" in symptom.stop
    assert symptom.causes == ()


@pytest.mark.parametrize(
    ("fitting", "symptom"), [pair for pair in SYMPTOMS if GRAVE.search(pair[1].says)], ids=lambda v: v.id
)
def test_gas_alarms_fire_burning_and_shock_are_answered_with_everyone_out_and_the_emergency_number(fitting, symptom):
    assert symptom.emergency or symptom.id == "gb_smell", symptom.says
    assert "veryone out into the open air now" in symptom.first
    assert "emergency number" in symptom.first


@pytest.mark.parametrize("wanted", ["gl_gas_smell", "al_beeps", "fg_fire", "bl_hot", "hu_tingle"])
def test_gas_alarm_fire_hot_battery_and_shock_each_have_an_emergency_of_their_own(wanted):
    assert load_catalogue().symptoms[wanted].emergency


@pytest.mark.parametrize(
    ("fitting", "symptom"),
    [pair for pair in SYMPTOMS if pair[0].loads.gas_g_h or pair[0].group == "gas"],
    ids=lambda v: v.id,
)
def test_whatever_burns_or_holds_gas_asks_about_a_smell_before_anything_else(fitting, symptom):
    assert re.search(r"smell gas|Everyone out into the open air now", symptom.first), symptom.says
    assert "emergency number" in symptom.first


@pytest.mark.parametrize(
    ("fitting", "symptom"),
    [pair for pair in SYMPTOMS if pair[0].group == "gas" and pair[1].causes],
    ids=lambda v: v.id,
)
def test_gas_valves_and_guards_are_opened_or_reset_only_where_nothing_smells_of_gas(fitting, symptom):
    touching = re.compile(r"\b(press|reset|light it|lit|open (the|that|it|one))\b")
    touched = [cause.fix for cause in symptom.causes if touching.search(cause.fix)]
    assert all(NO_SMELL.search(fix) for fix in touched), touched


def test_a_switch_that_tripped_is_reset_once_and_then_left_off():
    resets = {
        key: text
        for key, text in TEXTS.items()
        if re.search(r"\breset\b[^.]*\b(breaker|post|switch|pitch)\b", text, re.IGNORECASE)
        and key.endswith((".fix", ".text"))
    }
    assert len(resets) >= 4
    wrong = {key: text for key, text in resets.items() if "once" not in text or "leave it off" not in text}
    assert wrong == {}


def test_child_seats_are_fitted_by_the_seat_maker_and_the_law_of_the_place():
    points = [point.text for point in FITTINGS["child_anchor"].teach]
    assert all("maker" in text for text in points)
    assert any("law" in text for text in points)


@pytest.mark.parametrize("fitting", FITTINGS.values(), ids=lambda fitting: fitting.id)
def test_everything_told_is_a_sentence_with_a_capital_and_an_end(fitting):
    mine = {key: text for key, text in SENTENCES.items() if key.startswith(f"{fitting.id}.")}
    odd = {key: text for key, text in mine.items() if not re.match(r"^[A-Z0-9].*[.?!]$", text)}
    assert odd == {}


def test_every_check_asks_one_question():
    checks = {key: text for key, text in SENTENCES.items() if key.endswith(".check")}
    assert len(checks) > 200
    assert {key: text for key, text in checks.items() if text.count("?") != 1} == {}


def test_the_folder_goes_with_every_vehicle_and_hangs_on_no_fitting():
    assert load_catalogue().kit["folder"].when == ("always",)
    assert [fitting.id for fitting in FITTINGS.values() if "folder" in fitting.kit] == []


def test_the_gas_spanner_goes_only_with_cylinders_that_are_swapped():
    assert [fitting.id for fitting in FITTINGS.values() if "gas_spanner" in fitting.kit] == ["gas_exchange"]


@pytest.mark.parametrize(
    ("later", "earlier"),
    [
        ("ck_hold", "gl_smell"),
        ("cg_set", "gi_line"),
        ("fm_light", "gl_smell"),
        ("ge_swap", "gl_smell"),
        ("fa_auto", "hu_order"),
        ("ws_navy", "ft_blue"),
        ("df_which", "k3_say"),
    ],
)
def test_the_order_of_the_trade_gas_before_flames_hook_up_before_mains_water_before_showers_keys_before_caps(
    later, earlier
):
    points = load_catalogue().teach_points
    waits_for, queue = set(), [later]
    while queue:
        before = [name for name in points[queue.pop()].after if name not in waits_for]
        waits_for.update(before)
        queue.extend(before)
    assert earlier in waits_for
