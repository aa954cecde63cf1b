"""Normalise: text records + registry -> readings | rejects. The only place units change.

One pass in SQL. What is the same for many items is decided once: the distinct
attribute words of a package (`keys`), the places of each key (`key_places`),
the offset of each local day (`zone_days`). Items then only look it up.
"""

from warehouse.normalise.normaliser import FileCounts, normalise, rejects

__all__ = ["FileCounts", "normalise", "rejects"]
