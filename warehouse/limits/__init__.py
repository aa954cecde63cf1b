"""Published limits as data: one file a standard and edition, each row with source and confidence."""

from warehouse.limits.loader import load_limits
from warehouse.limits.severity import Zone, alarm_setting, trip_ceiling, zone

__all__ = ["Zone", "alarm_setting", "load_limits", "trip_ceiling", "zone"]
