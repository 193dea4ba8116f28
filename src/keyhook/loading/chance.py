"""The chance that a limit is passed, from the spread of every mass aboard.

Front and rear load are sums of independent normal errors, each with its lever, so together they are bivariate normal
and the total is their sum. Errors of one group (people, bags, bikes) share one unknown bias besides their own spread:
leaving the shared part out understates the chance.

``P(no limit passed)`` is one integral over the front load ``f``::

    integral_{-inf}^{F}  p(f)  P( rear <= min(R, T - f) | front = f )  df

taken by Gauss-Legendre on the two stretches left and right of the kink at ``f = T - R``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from keyhook.loading.items import Item
from keyhook.loading.settings import LoadingSettings
from keyhook.loading.statics import AxleLoads, axle_loads, rear_share
from keyhook.vehicle.build_sheet import Ticket

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)
#: Tails beyond this many standard deviations are left out; they hold less than 1e-15.
_TAIL_SD = 8.0


@dataclass(frozen=True, slots=True)
class LoadSpread:
    """Expected axle loads [kg] and their covariance [kg^2]."""

    expected: AxleLoads
    front_variance: float
    rear_variance: float
    covariance: float

    @property
    def front_sd_kg(self) -> float:
        """Standard deviation of the front load, kg."""
        return float(np.sqrt(self.front_variance))

    @property
    def rear_sd_kg(self) -> float:
        """Standard deviation of the rear load, kg."""
        return float(np.sqrt(self.rear_variance))

    @property
    def total_sd_kg(self) -> float:
        """Standard deviation of the total, kg."""
        return float(np.sqrt(max(0.0, self.front_variance + self.rear_variance + 2 * self.covariance)))


@dataclass(frozen=True, slots=True)
class OverloadChance:
    """Chance of passing each limit, and of passing any of them."""

    front_probability: float
    rear_probability: float
    total_probability: float
    any_probability: float


def reading_variance(ticket: Ticket) -> float:
    """Return the variance of one weighbridge reading, kg^2: its own spread and its step ``d`` as ``d^2 / 12``."""
    return ticket.sd_kg**2 + ticket.division_kg**2 / 12


def load_spread(
    base: AxleLoads,
    base_variance: tuple[float, float],
    items: Iterable[Item],
    wheelbase_m: float,
    settings: LoadingSettings,
) -> LoadSpread:
    """Return expected loads and covariance of the weighed base [kg, kg^2 for front and rear] and all items aboard."""
    expected = base
    cov = np.diag(base_variance).astype(float)
    shared: dict[str, NDArray[np.float64]] = {}
    for item in items:
        rear = rear_share(item.x_m, wheelbase_m)
        lever = np.array([1 - rear, rear])
        error = settings.error_of(item.group)
        expected = expected + axle_loads(item.mass_kg * (1 + error.bias_share), item.x_m, wheelbase_m)
        cov += np.outer(lever, lever) * item.sd_kg**2
        shared[item.group] = shared.get(item.group, np.zeros(2)) + lever * item.mass_kg * error.bias_sd_share
    for push in shared.values():
        cov += np.outer(push, push)
    return LoadSpread(expected, float(cov[0, 0]), float(cov[1, 1]), float(cov[0, 1]))


def overload_chance(spread: LoadSpread, *, front_kg: float, rear_kg: float, total_kg: float) -> OverloadChance:
    """Return the chance of passing each limit [kg] and any of them; absolute error under 1e-6."""
    mean_f, mean_r = spread.expected.front_kg, spread.expected.rear_kg
    sd_f, sd_r, sd_t = (max(sd, 1e-9) for sd in (spread.front_sd_kg, spread.rear_sd_kg, spread.total_sd_kg))
    front = float(ndtr((mean_f - front_kg) / sd_f))
    rear = float(ndtr((mean_r - rear_kg) / sd_r))
    total = float(ndtr((mean_f + mean_r - total_kg) / sd_t))
    within = _probability_within(spread, (sd_f, sd_r), (front_kg, rear_kg, total_kg))
    return OverloadChance(front, rear, total, min(1.0, max(front, rear, total, 1 - within)))


def _probability_within(spread: LoadSpread, sds: tuple[float, float], limits: tuple[float, float, float]) -> float:
    front_kg, rear_kg, total_kg = limits
    mean_f, mean_r = spread.expected.front_kg, spread.expected.rear_kg
    sd_f, sd_r = sds
    slope = spread.covariance / sd_f**2
    rest_sd = np.sqrt(max(sd_r**2 - slope**2 * sd_f**2, 1e-12))
    low, high = mean_f - _TAIL_SD * sd_f, min(front_kg, mean_f + _TAIL_SD * sd_f)
    if high <= low:
        return 0.0
    kink = min(max(total_kg - rear_kg, low), high)
    inside = 0.0
    for start, end in ((low, kink), (kink, high)):
        f = (end - start) / 2 * _NODES + (end + start) / 2
        room = np.minimum(rear_kg, total_kg - f)
        density = np.exp(-0.5 * ((f - mean_f) / sd_f) ** 2) / (sd_f * np.sqrt(2 * np.pi))
        within = ndtr((room - mean_r - slope * (f - mean_f)) / rest_sd)
        inside += float((end - start) / 2 * np.sum(_WEIGHTS * density * within))
    return inside
