"""A planned day as text: promises with their chances, what would help, and each person's own list."""

from __future__ import annotations

from collections.abc import Mapping

from keyhook.day_plan import Choice, PlannedDay, more_from_min
from keyhook.phrases import say
from keyhook.turnaround.chances import DepartureChance
from keyhook.turnaround.plan import Plan, PlannedTask, vehicle_under
from keyhook.turnaround.reasons import all_reasons, why_then
from keyhook.turnaround.recount import leaves_at
from keyhook.turnaround.solve import Status
from keyhook.turnaround.telling import because_text, first_name, lack_text, skill_text, task_text

#: What is said of the bound.
BOUND: Mapping[Status, str] = {"proven": "proven", "within": "within", "no bound known": "unbounded"}


def plan_text(found: PlannedDay, *, why: bool = False) -> str:
    """Return the planned day; with ``why`` also what each figure rests on."""
    if not found.problem.departures:
        quiet = say("day_plan.around.quiet", {"day": f"{found.clock.day:%A %d %B %Y}"})
        odd = (f"  {say(finding.code, finding.values)}" for finding in found.findings)
        return "\n".join([quiet, *odd, *lists_text(found, why)])
    lines = [
        say("day_plan.head", {"day": f"{found.clock.day:%A %d %B %Y}"}),
        *_cost(found),
        say(f"day_plan.{BOUND[found.status]}", {"bound_min": found.bound}),
        *_choices(found),
        "",
        f"  {say('day_plan.promised')}",
        *promises_text(found),
        *(f"  {lack_text(found.problem, lack)}" for lack in found.lacks),
        *(f"  {say(finding.code, finding.values)}" for finding in found.findings),
        "",
        *("  " + line for line in (ring_text(found), *helps_text(found), *bottlenecks_text(found))),
    ]
    lines += lists_text(found, why)
    if why:
        lines += [
            "",
            *(say(f"day_plan.why.{key}", _rests_on(found)) for key in ("plan", "chance", "help")),
        ]
    return "\n".join(lines)


def _cost(found: PlannedDay) -> list[str]:
    if found.rule is None:
        return []
    return [say("day_plan.cost", {"late_min": found.objective.lateness, "rule_min": found.rule.lateness})]


def _rests_on(found: PlannedDay) -> dict[str, int]:
    put_off = max((one.postpone_cost or 0 for one in found.problem.departures), default=0)
    return {"draws": found.chances.draws, "put_off_min": put_off}


def promises_text(found: PlannedDay) -> list[str]:
    """Return every promise of the day: the vehicle, when they leave, how surely, and what stops them."""
    chances = {chance.departure: chance for chance in found.chances.departures}
    lines = []
    for departure in found.problem.departures:
        vehicle, chance = found.plan.vehicle_of.get(departure.id), chances.get(departure.id)
        promised = found.clock.moment(departure.promised_min)
        if vehicle is None or chance is None:
            lines.append(f"  {promised:%H:%M}  {departure.id:5} {say('day_plan.put_off')}")
            continue
        lines.append(_promise(found, departure.id, vehicle, chance))
        if stop := found.stops.get(departure.id):
            lines.append(f"           STOP  {stop}")
    return lines


def _promise(found: PlannedDay, name: str, vehicle: str, chance: DepartureChance) -> str:
    departure = found.problem.departure_by_id[name]
    leaves = leaves_at(found.problem, found.plan, name) or departure.due
    values = {
        "leaves": f"{found.clock.moment(leaves):%H:%M}",
        "late_min": max(0, leaves - departure.due),
        "percent": round(100 * chance.on_time_probability),
        "safe": f"{found.clock.moment(round(chance.promise_90_min)):%H:%M}",
    }
    swap = "" if departure.allotted in {None, vehicle} else say("day_plan.instead", {"vehicle": departure.allotted})
    promised = found.clock.moment(departure.promised_min)
    return f"  {promised:%H:%M}  {name:5} {vehicle:7} {say('day_plan.promise', values)}{swap}"


def lists_text(found: PlannedDay, why: bool, from_min: int = 0, before: Plan | None = None) -> list[str]:
    """Return everybody's own list, with the reason for every start when asked.

    ``from_min`` leaves out what is over by then; what ``before`` has otherwise says how it was.
    """
    reasons = all_reasons(found.problem, found.plan) if why else {}
    lines, idle = list[str](), list[str]()
    for person in found.problem.people:
        mine = sorted((one for one in found.plan.tasks if person.id in one.people), key=lambda one: one.start_min)
        mine = [one for one in mine if one.end_min > from_min]
        lines += ["", f"{person.name or person.id} ({len(mine)})"] if mine else []
        idle += [] if mine else [person.name or person.id]
        for one in mine:
            was = _was(found, one, before) if before is not None else ""
            lines.append(f"{_task_line(found, one)}{was}")
            if why:
                because = because_text(found.problem, found.plan, reasons[one.task], found.clock)
                lines.append(f"               {because}")
    if idle and lines:
        lines += ["", say("day_plan.idle", {"people": ", ".join(idle)})]
    return lines


def _was(found: PlannedDay, one: PlannedTask, before: Plan) -> str:
    """Return how a task stood in the plan before, when that was otherwise."""
    held = before.by_task.get(one.task)
    if held is None:
        return f"  ({say('day_again.new')})"
    other = [f"{found.clock.says(held.start_min)}"] if held.start_min != one.start_min else []
    if held.people != one.people:
        other.append(" and ".join(first_name(found.problem, name) for name in held.people))
    return f"  ({say('day_again.was', {'before': ', '.join(other)})})" if other else ""


def _choices(found: PlannedDay) -> list[str]:
    """Return the chosen plan's figures, and the cheapest plan's beside them when that is another."""
    if not found.choices or found.cheapest is None:
        return []
    keys = {"choice": found.choices[0]} | ({"cheapest": found.cheapest} if found.cheapest != found.choices[0] else {})
    return [
        say(
            f"day_plan.{key}",
            {
                "late_min": choice.objective.lateness,
                "expected_min": round(choice.expected_min),
                "percent": round(100 * choice.promises_probability),
                "draws": found.chances.draws,
                "swapped": _swapped(found, choice),
            },
        )
        for key, choice in keys.items()
    ]


def _swapped(found: PlannedDay, choice: Choice) -> int:
    booked = {departure.id: departure.allotted for departure in found.problem.departures}
    return sum(1 for name, vehicle in choice.plan.allotment if vehicle and booked[name] not in {None, vehicle})


def ring_text(found: PlannedDay) -> str:
    """Return whom to ring early, with the promise that holds nine times in ten."""
    late = [
        say("day_plan.ring_one", {"departure": one.departure, "safe": found.clock.says(round(one.promise_90_min))})
        for one in found.chances.ring_early
    ]
    return say("day_plan.ring", {"departures": ", ".join(late)}) if late else say("day_plan.nobody_to_ring")


def helps_text(found: PlannedDay, most: int = 3) -> list[str]:
    """Return what one more person or slot would buy, what buys most first."""
    lines = []
    for help_ in found.chances.what_if[:most]:
        kind, what = help_.what.split(".", 1)
        if help_.spared_min >= 1:
            from_min = more_from_min(found.clock, found.problem)
            values = {"what": skill_text(what), "minutes": round(help_.spared_min), "from": found.clock.says(from_min)}
            lines.append(say(f"day_plan.help_{kind}", values))
    return lines or [say("day_plan.help_none")]


def bottlenecks_text(found: PlannedDay, most: int = 1) -> list[str]:
    """Return the tasks whose minutes count most, by how much, and why they begin when they do."""
    lines = []
    for one in found.bottlenecks[:most]:
        if one.spared_min >= 1:
            why = why_then(found.problem, found.plan, one.task)
            values = {
                "task": task_text(found.problem, found.plan, one.task),
                "at": found.clock.says(found.plan.by_task[one.task].start_min),
                "minutes": round(one.spared_min),
                "because": because_text(found.problem, found.plan, why, found.clock),
            }
            lines.append(say("day_plan.bottleneck", values))
    return lines


def _task_line(found: PlannedDay, one: PlannedTask) -> str:
    task = found.problem.task_by_id[one.task]
    vehicle = vehicle_under(task, found.plan.vehicle_of) or ""
    start, end = found.clock.moment(one.start_min), found.clock.moment(one.end_min)
    return f"  {start:%H:%M}-{end:%H:%M}  {vehicle:7} {task.name}"
