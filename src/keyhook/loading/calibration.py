"""What the empty vehicle weighs, out of one or several weighbridge tickets.

Each ticket is brought to one common condition (diesel, gas and exhaust fluid full, every other tank empty, nobody
aboard, no rack) by taking off what its stated condition had more. The common front and rear masses are then the
weighted means, weights one over the reading variance; with two numbers sought this is weighted least squares in closed
form. A ticket whose residual is far outside its reading error was not in the condition it states.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from keyhook.loading.chance import reading_variance
from keyhook.loading.items import Filling, filling_items, ticket_aboard
from keyhook.loading.settings import LoadingSettings
from keyhook.loading.statics import AxleLoads, axle_loads_of
from keyhook.vehicle.build_sheet import BuildSheet, Ticket

#: A residual of this many standard deviations is no reading error (chance under 1 in 10,000 for two axles).
OUTLIER_SD = 4.0
COMMON_CONDITION = Filling(0.0, 0.0, 0.0, 0.0, 1.0, 1.0)


@dataclass(frozen=True, slots=True)
class TicketFit:
    """How one ticket lies against the common masses: residuals [kg] and how many standard deviations, the larger."""

    ticket: Ticket
    common: AxleLoads
    residual: AxleLoads
    residual_sd: float
    outlier: bool


@dataclass(frozen=True, slots=True)
class Calibration:
    """Axle masses in the common condition [kg], their variance [kg^2] for front and rear, and each ticket's fit."""

    base: AxleLoads
    variance: tuple[float, float]
    fits: tuple[TicketFit, ...]

    @property
    def newest(self) -> Ticket:
        """The youngest ticket that was used."""
        used = [fit.ticket for fit in self.fits if not fit.outlier] or [fit.ticket for fit in self.fits]
        return max(used, key=lambda ticket: ticket.taken_on)


def common_loads(sheet: BuildSheet, ticket: Ticket) -> AxleLoads:
    """Return the ticket's axle masses brought to the common condition, kg."""
    settings = LoadingSettings()
    changes = (*filling_items(sheet, COMMON_CONDITION, ticket, settings), *ticket_aboard(ticket, sheet))
    change = axle_loads_of(((item.mass_kg, item.x_m) for item in changes), sheet.wheelbase_m)
    return AxleLoads(ticket.front_kg, ticket.rear_kg) + change


def calibrate(sheet: BuildSheet) -> Calibration:
    """Return the common masses of a vehicle from its tickets, leaving out the ones that cannot be right.

    With three or more tickets the worst is left out while its residual against the others passes
    :data:`OUTLIER_SD`; with two that disagree the younger is believed and the other is flagged.
    """
    used, out = list(sheet.tickets), []
    while len(used) > 1:
        worst = max(used, key=lambda ticket: _against_others(sheet, ticket, [t for t in used if t is not ticket]))
        if _against_others(sheet, worst, [t for t in used if t is not worst]) <= OUTLIER_SD:
            break
        if len(used) == 2:  # noqa: PLR2004  # two that disagree: nothing but age decides
            worst = min(used, key=lambda ticket: ticket.taken_on)
        used.remove(worst)
        out.append(worst)
    base, variance = _weighted_mean(sheet, used)
    fits = tuple(_fit(sheet, ticket, base, variance, outlier=ticket in out) for ticket in sheet.tickets)
    return Calibration(base, variance, fits)


def _weighted_mean(sheet: BuildSheet, tickets: Sequence[Ticket]) -> tuple[AxleLoads, tuple[float, float]]:
    weights = [1 / max(reading_variance(ticket), 1e-9) for ticket in tickets]
    loads = [common_loads(sheet, ticket) for ticket in tickets]
    total = sum(weights)
    front_kg = sum(w * load.front_kg for w, load in zip(weights, loads, strict=True)) / total
    rear_kg = sum(w * load.rear_kg for w, load in zip(weights, loads, strict=True)) / total
    return AxleLoads(front_kg, rear_kg), (1 / total, 1 / total)


def _against_others(sheet: BuildSheet, ticket: Ticket, others: Sequence[Ticket]) -> float:
    base, variance = _weighted_mean(sheet, others)
    return _residual_sd(common_loads(sheet, ticket) - base, reading_variance(ticket) + variance[0])


def _residual_sd(residual: AxleLoads, variance: float) -> float:
    """Return the larger residual of the two axles in standard deviations."""
    return float(max(abs(residual.front_kg), abs(residual.rear_kg)) / max(variance, 1e-9) ** 0.5)


def _fit(
    sheet: BuildSheet, ticket: Ticket, base: AxleLoads, variance: tuple[float, float], *, outlier: bool
) -> TicketFit:
    common = common_loads(sheet, ticket)
    residual = common - base
    # A ticket that helped to make the mean is closer to it than a fresh one: its variance is less the mean's.
    own = reading_variance(ticket)
    spread = own + variance[0] if outlier else max(own - variance[0], own * 1e-6)
    residual_sd = 0.0 if len(sheet.tickets) == 1 else _residual_sd(residual, spread)
    return TicketFit(ticket, common, residual, residual_sd, outlier)
