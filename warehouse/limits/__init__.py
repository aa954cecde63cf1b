"""Published limits as data: a file a standard and edition, each row with its source."""

from warehouse.limits.loader import PLANT_TABLES, load_limits, sound_limits
from warehouse.limits.severity import Zone, alarm_setting, trip_ceiling, zone

__all__ = [
    "PLANT_TABLES",
    "Zone",
    "alarm_setting",
    "load_limits",
    "sound_limits",
    "trip_ceiling",
    "zone",
]
