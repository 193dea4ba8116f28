"""Planning again on the way round: what is done, what was passed over, and how fast this party really is."""

from __future__ import annotations

import difflib
import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from keyhook.basis import Finding, Level
from keyhook.catalogue import Catalogue
from keyhook.errors import BadInput, UnknownName
from keyhook.phrases import say
from keyhook.tour.answer import answer_of
from keyhook.tour.compose import ComposedTour
from keyhook.tour.outcome import TourAnswer
from keyhook.tour.problem import TourProblem, forced_points
from keyhook.tour.select import Search

#: What one believes of a party's pace before it has been seen, as so many planned seconds at pace 1 (assumption).
PRIOR_S = 300.0
#: Nobody is faster or slower than this for long (assumption).
PACE_FROM, PACE_TO = 0.6, 2.5
#: A pace within this of 1 is as planned.
SAME_PACE = 0.05


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a tour stands.

    Parameters
    ----------
    elapsed_s
        Seconds since its start; None when nobody looked, then as planned for the points done [s].
    at_station
        Where the party stands now; None for the station of the last point done.
    done
        Ids of the points shown, in the order in which they were; what they knew already counts as shown.
    skipped
        Ids that were passed over.
    paused_s
        Of the elapsed seconds, those in which nothing was shown (a phone call, a wet child) [s].
    """

    elapsed_s: float | None = None
    at_station: str | None = None
    done: Sequence[str] = ()
    skipped: Collection[str] = ()
    paused_s: float = 0.0


def planned_again(
    composed: ComposedTour,
    catalogue: Catalogue,
    progress: Progress,
    *,
    search: Search | None = None,
    currency: str = "GBP",
) -> TourAnswer:
    """Return the rest of a tour, planned from where it stands.

    ``composed`` is the tour as it was composed at first, so that the pace is learnt from its beginning.

    Raises
    ------
    UnknownName
        A point or station that is not in the tour.
    BadInput
        Seconds that cannot be.
    """
    problem = problem_from(composed.problem, progress)
    back = sorted(set(progress.skipped) & forced_points(problem))
    said = [_said(problem)]
    if back:
        titles = "; ".join(dict.fromkeys(composed.known[name].title for name in back))
        said.append(Finding("tour.come_back", Level.WARN, {"count": len(back), "titles": titles}))
    return answer_of(replace(composed, problem=problem), catalogue, search=search, currency=currency, said=said)


def problem_from(problem: TourProblem, progress: Progress) -> TourProblem:
    """Return the problem of what is left, with the pace learnt so far."""
    known = problem.by_id()
    for name in (*progress.done, *progress.skipped):
        if name not in known:
            raise UnknownName("No point of this tour has this id", seen=name, todo=_instead(name, known, "the plan"))
    at_station = progress.at_station or _last_station(problem, progress.done)
    if at_station not in problem.stations:
        todo = _instead(at_station, problem.stations, ", ".join(problem.stations))
        raise UnknownName("The vehicle has no such station", seen=at_station, todo=todo)
    shown_s = planned_s(problem, progress.done)
    elapsed_s = shown_s * problem.pace_factor if progress.elapsed_s is None else progress.elapsed_s
    if not 0 <= progress.paused_s <= elapsed_s < math.inf:
        seen = f"{progress.paused_s:g} of {elapsed_s:g}"
        raise BadInput("The seconds paused and elapsed cannot be these", seen=seen, todo="Give paused <= elapsed")
    return replace(
        problem,
        start_station=at_station,
        elapsed_s=elapsed_s,
        pace_factor=learnt_pace(shown_s, elapsed_s - progress.paused_s, problem.pace_factor),
        done=frozenset(progress.done),
        skipped=frozenset(progress.skipped) - frozenset(progress.done),
    )


def _instead(name: str, names: Iterable[str], where: str) -> str:
    """Return what to do about a name that is not there: the one that was meant, or where to take it from."""
    near = difflib.get_close_matches(name, list(names), n=1, cutoff=0.6)
    return f"Did you mean {near[0]}?" if near else f"Take it from {where}"


def _last_station(problem: TourProblem, done: Sequence[str]) -> str:
    return problem.by_id()[done[-1]].station if done else problem.start_station


def planned_s(problem: TourProblem, done: Sequence[str]) -> float:
    """Return what showing these points in this order was planned to take at pace 1, walking included [s]."""
    points = problem.by_id()
    talk_s = sum(points[name].duration_s * problem.talk_factor for name in done)
    stands = [problem.start_station, *(points[name].station for name in done)]
    return talk_s + sum(problem.walking_s[one, other] for one, other in pairwise(stands))


def learnt_pace(plan_s: float, took_s: float, told_factor: float = 1.0) -> float:
    """Return the pace of a party: what it took over what was planned, drawn towards what was told at first.

    The prior counts as :data:`PRIOR_S` planned seconds gone at the told pace, so after five planned minutes half of
    what was seen is believed.
    """
    if plan_s <= 0:
        return told_factor
    return min(max((PRIOR_S * told_factor + took_s) / (PRIOR_S + plan_s), PACE_FROM), PACE_TO)


def _said(problem: TourProblem) -> Finding:
    off = problem.pace_factor - 1
    key = "as_planned" if abs(off) < SAME_PACE else ("slower" if off > 0 else "faster")
    values = {
        "elapsed_min": f"{problem.elapsed_s / 60:.0f}",
        "left_min": f"{problem.left_s / 60:.0f}",
        "done": len(problem.done),
        "pace": say(f"tour.pace.{key}", {"percent": f"{100 * abs(off):.0f}"}),
    }
    return Finding("tour.replanned", Level.NOTE, values, ("talk_min",))
