"""A planned day as text: promises with their chances, what would help, and each person's own list."""

from __future__ import annotations

from keyhook.day_plan import PlannedDay
from keyhook.phrases import say
from keyhook.turnaround.chances import DepartureChance
from keyhook.turnaround.plan import PlannedTask, vehicle_under
from keyhook.turnaround.recount import leaves_at


def plan_text(found: PlannedDay, *, why: bool = False) -> str:
    """Return the planned day; with ``why`` also what each figure rests on."""
    lines = [
        say("day_plan.head", {"day": f"{found.clock.day:%A %d %B %Y}"}),
        say("day_plan.cost", {"late_min": found.objective.lateness, "rule_min": found.rule.lateness}),
        "",
        *_promises(found),
        "",
        *_helps(found),
    ]
    for person in found.problem.people:
        mine = sorted((one for one in found.plan.tasks if person.id in one.people), key=lambda one: one.start_min)
        lines += ["", f"{person.name or person.id} ({len(mine)})"]
        lines += [_task_line(found, one) for one in mine]
    if why:
        lines += [
            "",
            *(say(f"day_plan.why.{key}", {"draws": found.chances.draws}) for key in ("plan", "chance", "help")),
        ]
    return "\n".join(lines)


def _promises(found: PlannedDay) -> list[str]:
    chances = {chance.departure: chance for chance in found.chances.departures}
    lines = []
    for departure in found.problem.departures:
        vehicle, chance = found.plan.vehicle_of.get(departure.id), chances.get(departure.id)
        promised = found.clock.moment(departure.promised_min)
        if vehicle is None or chance is None:
            lines.append(f"  {promised:%H:%M}  {departure.id:5} {say('day_plan.put_off')}")
            continue
        lines.append(_promise(found, departure.id, vehicle, chance))
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


def _helps(found: PlannedDay) -> list[str]:
    lines = []
    for help_ in found.chances.what_if[:3]:
        kind, what = help_.what.split(".", 1)
        if help_.spared_min >= 1:
            values = {"what": what.replace("_", " "), "minutes": round(help_.spared_min)}
            lines.append("  " + say(f"day_plan.help_{kind}", values))
    return lines


def _task_line(found: PlannedDay, one: PlannedTask) -> str:
    task = found.problem.task_by_id[one.task]
    vehicle = vehicle_under(task, found.plan.vehicle_of) or ""
    start, end = found.clock.moment(one.start_min), found.clock.moment(one.end_min)
    return f"  {start:%H:%M}-{end:%H:%M}  {vehicle:7} {task.name}"
