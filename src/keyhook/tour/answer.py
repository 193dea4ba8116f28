"""Will they know how? What to show this party in this vehicle, in which order, and where the rest goes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace

from keyhook.basis import Basis, Because, Figure, Finding, Input, Level
from keyhook.catalogue import Catalogue
from keyhook.hire.hire import Hire
from keyhook.phrases import say
from keyhook.tour.checker import verified
from keyhook.tour.compose import ComposedTour, Known, TourWishes, compose_tour
from keyhook.tour.greedy import fixed_talk
from keyhook.tour.outcome import AnswerLine, AnswerStop, Elsewhere, MoreTime, Question, Slot, TourAnswer, Why
from keyhook.tour.plan import TourPlan, TourStop
from keyhook.tour.problem import TourProblem, forced_points, open_points, with_minutes
from keyhook.tour.search import best_tour
from keyhook.tour.select import Search
from keyhook.vehicle.build_sheet import BuildSheet
from keyhook.vehicle.doors import WALKING_INPUTS

#: What more time is asked for.
EXTRA_MIN = 5.0
#: So many points a message holds before nobody reads it (assumption).
MESSAGE_HOLDS = 5
#: So many things stick, and so long people listen (common practice).
THINGS_STICK, LISTEN_MIN = 25, 40.0
#: Teach-back questions, and the phrase of the one about what is true of this vehicle alone.
QUESTIONS = 3
ASK_OF_QUIRK = "tour.ask.quirk"
#: What must be said takes so large a share of the time that it is worth a word.
TIGHT_SHARE = 0.85
#: Shares of the search for the question what more time would buy, and for what must be said alone.
MORE_SHARE, MANDATORY_SHARE = 0.35, 0.1
#: Points that five more minutes would add, named in the sentence.
NAMED = 3

_SLOT: dict[str, Slot] = {
    "pre": "before_collection",
    "first_stop": "first_stop",
    "first_night": "first_night",
    "need": "card",
    "before_return": "before_return",
}


def tour_answer(
    sheet: BuildSheet,
    catalogue: Catalogue,
    hire: Hire,
    wishes: TourWishes | None = None,
    *,
    search: Search | None = None,
    currency: str = "GBP",
) -> TourAnswer:
    """Return the tour of one hire in one vehicle.

    Parameters
    ----------
    sheet
        The vehicle as built.
    wishes
        Minutes, quirks of the vehicle, what the hirer has confirmed, and what this depot has learnt.
    search
        How long to look; a second when not given.
    currency
        In which the catalogue's costs are meant.

    Raises
    ------
    UnknownName
        A fitting that the catalogue does not know, a station that cannot be reached.
    NoPlan
        Teach points wait for one another in a circle.
    """
    return answer_of(compose_tour(sheet, catalogue, hire, wishes), catalogue, search=search, currency=currency)


def answer_of(
    composed: ComposedTour,
    catalogue: Catalogue,
    *,
    search: Search | None = None,
    currency: str = "GBP",
    said: Iterable[Finding] = (),
) -> TourAnswer:
    """Return the answer for a composed problem, planned for the first time or again; ``said`` comes first."""
    search, problem = search or Search(limit_s=1.0), composed.problem
    plan = verified(problem, best_tour(problem, search))
    more = _more_time(problem, plan, search)
    mandatory_min = _mandatory_s(problem, plan, search) / 60
    fits = plan.end_s <= problem.elapsed_s + problem.left_s
    over_min = 0.0 if fits else max(mandatory_min - problem.left_s / 60, 0.0)
    stops = tuple(_stop(composed, stop) for stop in plan.stops)
    elsewhere = tuple(_elsewhere(composed, plan, catalogue.scales.message_factor))
    answer = TourAnswer(
        stops=stops,
        elsewhere=elsewhere,
        more=more,
        questions=_questions(composed, plan),
        mandatory_min=mandatory_min,
        over_min=over_min,
        plan=plan,
        composed=composed,
        findings=(),
        figures={figure.key: figure for figure in _figures(composed, plan, more, mandatory_min, elsewhere, currency)},
    )
    return replace(answer, findings=(*said, *_findings(answer, currency)))


def _more_time(problem: TourProblem, plan: TourPlan, search: Search) -> MoreTime:
    """Return what more minutes would buy; the plan itself is the start, so it is never less."""
    wider = with_minutes(problem, problem.available_min + EXTRA_MIN)
    longer = best_tour(wider, replace(search, limit_s=MORE_SHARE * search.limit_s), start=plan)
    added = [name for name in longer.points if name not in set(plan.points)]
    points = problem.by_id()
    added.sort(key=lambda name: (-points[name].value_cost, name))
    return MoreTime(EXTRA_MIN, max(longer.value_cost - plan.value_cost, 0.0), tuple(added))


def _mandatory_s(problem: TourProblem, plan: TourPlan, search: Search) -> float:
    """Return the seconds that what must be said takes alone, on its shortest walk, from now on [s].

    It is planned for no minutes at all, so that it is the same whatever minutes there are.
    """
    forced = forced_points(problem)
    if not forced:
        return 0.0
    alone = replace(
        problem,
        points=tuple(point for point in problem.points if point.id in forced | problem.done),
        available_min=0.0,
    )
    shortest = best_tour(alone, replace(search, limit_s=MANDATORY_SHARE * search.limit_s))
    ends_s = [shortest.end_s, *([plan.end_s] if forced == set(plan.points) else [])]
    return min(ends_s) - problem.elapsed_s


def _stop(composed: ComposedTour, stop: TourStop) -> AnswerStop:
    points, lines = composed.problem.by_id(), list[AnswerLine]()
    for line in stop.lines:
        known, point = composed.known[line.point], points[line.point]
        lines.append(
            AnswerLine(
                id=known.id,
                text=known.text,
                title=known.title,
                why=known.why,
                who=known.who,
                kind=known.kind,
                find_it=known.find_it,
                where=known.where,
                start_s=line.start_s,
                talk_s=line.talk_s,
                mandatory=known.mandatory,
                closing=point.closing,
                value_cost=known.value_cost,
                because=known.because,
            )
        )
    return AnswerStop(stop.station, composed.problem.name_of(stop.station), stop.walk_s, stop.arrive_s, tuple(lines))


def _elsewhere(composed: ComposedTour, plan: TourPlan, message_factor: float) -> Iterator[Elsewhere]:
    """Yield what goes to the pack: points with another moment, then those that fell off, dearest first."""
    for known in composed.elsewhere:
        yield _entry(known, _SLOT[known.moment], "moment", message_factor)
    still_open = {point.id for point in open_points(composed.problem)}
    for known, slot in not_shown(composed, {*plan.points, *composed.problem.done}):
        yield _entry(known, slot, "no_time" if known.id in still_open else "skipped", message_factor)


def not_shown(composed: ComposedTour, shown: Collection[str]) -> Iterator[tuple[Known, Slot]]:
    """Yield the points of a tour that are not among those shown, dearest first, each with where it goes instead.

    The dearest go into two messages that somebody reads, as far as these have room beside what is theirs anyway: about
    driving at the first stop, the others on the first evening; the rest become cards.
    """
    own = Counter(_SLOT[known.moment] for known in composed.elsewhere)
    room = {slot: MESSAGE_HOLDS - own[slot] for slot in ("first_stop", "first_night")}
    off = [composed.known[point.id] for point in composed.problem.points if point.id not in shown]
    for known in sorted(off, key=lambda known: (-known.value_cost, known.id)):
        slot: Slot = "first_stop" if known.moment == "drive_off" else "first_night"
        if room[slot] > 0:
            room[slot] -= 1
        else:
            slot = "card"
        yield known, slot


def _entry(known: Known, slot: Slot, why: Why, message_factor: float) -> Elsewhere:
    return Elsewhere(
        id=known.id,
        text=(known.entry.alone if known.entry else "") or known.text,
        title=known.title,
        find_it=known.find_it,
        slot=slot,
        why=why,
        value_cost=known.value_cost,
        left_cost=known.loss_cost * message_factor,
    )


def _questions(composed: ComposedTour, plan: TourPlan) -> tuple[Question, ...]:
    """Return a question for each of the dearest points shown, from different fittings."""
    dearest = sorted((composed.known[name] for name in plan.points), key=lambda known: (-known.loss_cost, known.id))
    asked: dict[str, Question] = {}
    for known in dearest:
        text = known.entry.ask if known.entry else say(ASK_OF_QUIRK)
        if known.title not in asked and text:
            asked[known.title] = Question(known.id, text, known.title)
    return tuple(asked.values())[:QUESTIONS]


def _figures(
    composed: ComposedTour,
    plan: TourPlan,
    more: MoreTime,
    mandatory_min: float,
    elsewhere: tuple[Elsewhere, ...],
    currency: str,
) -> Iterator[Figure]:
    problem = composed.problem
    talk_min = sum(line.talk_s for stop in plan.stops for line in stop.lines) / 60
    walk_min = (plan.end_s - problem.elapsed_s) / 60 - talk_min
    seen = ("this tour so far", Basis.MEASURED) if problem.elapsed_s else ("desk", Basis.TOLD)
    pace = (Input("pace of this party", problem.pace_factor, "factor", *seen),)
    talk_inputs = (*composed.talk_because.inputs, *(pace if problem.pace_factor != 1 else ()))
    yield Figure("available_min", "Time there is", problem.available_min, "min", composed.minutes_because)
    yield Figure(
        "talk_min", "Showing and trying", talk_min, "min", Because("sum of seconds x talk factor", talk_inputs)
    )
    yield Figure(
        "walk_min",
        "Walking",
        walk_min,
        "min",
        Because("sum of the quickest ways between stops", WALKING_INPUTS, Basis.ASSUMPTION),
    )
    parts = (Input("showing and trying", talk_min, "min"), Input("walking", walk_min, "min"))
    before = (Input("already spent", problem.elapsed_s / 60, "min", "", Basis.MEASURED),) if problem.elapsed_s else ()
    yield Figure("tour_min", "Tour", plan.end_s / 60, "min", Because("showing + walking", (*before, *parts)))
    alone = Because("what must be said, on its shortest walk", talk_inputs)
    yield Figure("mandatory_min", "What must be said alone", mandatory_min, "min", alone)
    yield _saved(composed, plan, currency)
    left_cost = sum(entry.left_cost for entry in elsewhere if entry.why != "moment")
    left = Because("sum of loss x still wrong when only read", (), Basis.COMMON_PRACTICE)
    yield Figure("left_cost", "Loss that stays for what falls off, once read", left_cost, currency, left)
    yield Figure("five_more", "Five more minutes would save", more.gain_cost, currency, Because("planned again"))
    talk = fixed_talk(problem, mandatory_first=True)
    ratio = plan.value_cost / talk.value_cost if talk.value_cost else 1.0
    inputs = (
        Input("this tour saves", plan.value_cost, currency),
        Input("going round and telling everything in turn saves", talk.value_cost, currency),
    )
    yield Figure("against_fixed_talk", "Against a fixed talk", ratio, "times", Because("this / fixed talk", inputs))


def _saved(composed: ComposedTour, plan: TourPlan, currency: str) -> Figure:
    dearest = sorted((composed.known[name] for name in plan.points), key=lambda known: (-known.value_cost, known.id))
    named = [Input(f"{known.title}: {known.text}", known.value_cost, currency, known.id) for known in dearest[:5]]
    others = Input("all others", sum(known.value_cost for known in dearest[5:]), currency)
    because = Because("sum of miss x bite x cost x (wrong before - still wrong after), for ranking", (*named, others))
    return Figure("saved_cost", "Expected loss that the tour saves", plan.value_cost, currency, because)


def _findings(answer: TourAnswer, currency: str) -> Iterator[Finding]:
    for subject in (_first, _time, _rest, _more, _keeping, _proof):
        yield from subject(answer, currency)
    yield Finding("tour.caution", Level.NOTE)


def _first(answer: TourAnswer, _currency: str) -> Iterator[Finding]:
    for known in answer.composed.unsettled:
        yield Finding("tour.settle_first", Level.WARN, {"text": known.text, "point": known.id})


def _time(answer: TourAnswer, _currency: str) -> Iterator[Finding]:
    problem, forced = answer.composed.problem, forced_points(answer.composed.problem)
    left_min = problem.left_s / 60
    values = {
        "needed_min": _minutes(answer.mandatory_min),
        "available_min": _minutes(left_min),
        "over_min": _minutes(answer.over_min),
    }
    if answer.over_min > 0:
        yield Finding("tour.mandatory_over", Level.WARN, values, ("mandatory_min", "available_min"))
    elif not answer.plan.points:
        yield Finding("tour.nothing", Level.NOTE)
        return
    elif forced and answer.mandatory_min > TIGHT_SHARE * left_min:
        yield Finding("tour.mandatory_tight", Level.NOTE, values, ("mandatory_min", "available_min"))
    shown = {
        "shown": len(answer.plan.points),
        "minutes": _minutes((answer.plan.end_s - problem.elapsed_s) / 60),
        "mandatory": sum(line.mandatory for line in answer.lines),
        "end": problem.name_of(problem.end_station),
    }
    yield Finding("tour.fits", Level.NOTE, shown, ("tour_min", "saved_cost"))


def _rest(answer: TourAnswer, _currency: str) -> Iterator[Finding]:
    off = [entry for entry in answer.elsewhere if entry.why == "no_time"]
    cards = sum(entry.slot == "card" for entry in off)
    if off:
        values = {"count": len(off), "messages": len(off) - cards, "cards": cards}
        yield Finding("tour.falls_off", Level.NOTE, values, ("left_cost",))


def _more(answer: TourAnswer, currency: str) -> Iterator[Finding]:
    if answer.more.added:
        known = answer.composed.known
        texts = [f"{known[name].title}: {known[name].text}" for name in answer.more.added[:NAMED]]
        values = {"gain": f"{answer.more.gain_cost:.0f}", "currency": currency, "added": " / ".join(texts)}
        yield Finding("tour.five_more", Level.NOTE, values, ("five_more",))
    elif answer.plan.points and not answer.over_min:
        yield Finding("tour.five_more_nothing", Level.NOTE, {}, ("five_more",))


def _keeping(answer: TourAnswer, _currency: str) -> Iterator[Finding]:
    shown, minutes = len(answer.plan.points), answer.end_min
    if answer.composed.problem.done:
        return  # half-way round it comes too late
    if shown > THINGS_STICK and minutes >= LISTEN_MIN - 1:
        yield Finding("tour.too_much", Level.NOTE, {"shown": shown, "minutes": _minutes(minutes)}, ("tour_min",))


def _proof(answer: TourAnswer, _currency: str) -> Iterator[Finding]:
    plan = answer.plan
    if plan.how == "greedy" and plan.points:
        yield Finding("tour.by_rule", Level.NOTE, {}, ("saved_cost",))
    elif not plan.proven and plan.bound_cost is not None and plan.value_cost > 0 and plan.bound_cost < float("inf"):
        percent = 100 * (plan.bound_cost / plan.value_cost - 1)
        yield Finding("tour.not_proven", Level.NOTE, {"percent": f"{percent:.1f}"}, ("saved_cost",))


def _minutes(minutes: float) -> str:
    """Return minutes as people say them: whole ones, tenths below ten."""
    return f"{minutes:.0f}" if minutes >= 10 or not minutes else f"{minutes:.1f}"  # noqa: PLR2004
