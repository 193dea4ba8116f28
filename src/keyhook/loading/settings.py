"""What the depot may set about how a loading is judged. Every value is an assumption until the depot measures."""

from __future__ import annotations

from pydantic import Field

from keyhook.records import NotNegative, Probability, Record

#: Densities, kg/l. Diesel: EN 590 span 0.820-0.845; exhaust fluid: ISO 22241-1 span 1.087-1.093; water at 10 C.
DIESEL_KG_L = 0.832
EXHAUST_FLUID_KG_L = 1.09
WATER_KG_L = 1.0


class GroupError(Record):
    """How far a group's told masses are usually off: mean and standard deviation of one shared share, own sd share."""

    bias_share: float = 0.0
    bias_sd_share: NotNegative = 0.0
    own_sd_share: NotNegative = 0.0


class Inconvenience(Record):
    """What each change costs the party, in points; only their ratios matter."""

    leave_per_kg: NotNegative = 1.0
    move_per_kg: NotNegative = 0.08
    move_each: NotNegative = 0.3
    water_per_l: NotNegative = 0.15
    leave_bike: NotNegative = 30.0
    leave_rack: NotNegative = 1.0


class LoadingSettings(Record):
    """Settings of the loading answer."""

    people: GroupError = GroupError(bias_share=0.02, bias_sd_share=0.02)
    bags: GroupError = GroupError(bias_share=0.15, bias_sd_share=0.12, own_sd_share=0.10)
    bikes: GroupError = GroupError(bias_share=0.03, bias_sd_share=0.04, own_sd_share=0.03)
    liquids: GroupError = GroupError(own_sd_share=0.05)
    kit: GroupError = GroupError(own_sd_share=0.15)
    weigh_from_probability: Probability = 0.05
    stop_from_probability: Probability = 0.5
    ticket_good_days: NotNegative = 365
    z_sd: NotNegative = 0.0
    piece_kg: float = Field(default=10.0, gt=0)
    least_water_l: NotNegative = 10.0
    inconvenience: Inconvenience = Inconvenience()

    def error_of(self, group: str) -> GroupError:
        """Return how far this group is usually off; the ticket's own error is handled apart."""
        errors = {
            "people": self.people,
            "bags": self.bags,
            "bikes": self.bikes,
            "liquids": self.liquids,
            "kit": self.kit,
        }
        return errors[group]
