"""What people of a site read: values and times in its display profile (rule W7).

Rows stay canonical; what is shown stands beside them. Sentences (`reason`, `evidence`) stay in
the canonical units they were told in.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

import pyarrow as pa
import pyarrow.compute as pc

from schemas.display import Profile, Shown, parse_profile
from schemas.tables.registry import SITES
from warehouse.registry.entities import current_entities
from warehouse.registry.stored import registry_events
from warehouse.store import Store

Row = dict[str, Any]
_VALUES = (
    "value", "baseline", "boundary_a_b", "boundary_b_c", "boundary_c_d", "boundary_watch",
    "boundary_alert",
)  # fmt: skip
_DIFFERENCES = ("trend_per_30_days", "trend_low", "trend_high")
_ZONES = ("boundary_a_b", "boundary_b_c", "boundary_c_d")
"""Boundaries of limit sets: of rms, also beside a peak (rule R1)."""
_TOLD = {
    "baseline": "baseline", "boundary_watch": "watch above", "boundary_alert": "alert above",
    "boundary_a_b": "A/B", "boundary_b_c": "B/C", "boundary_c_d": "C/D",
}  # fmt: skip
_PEAKS = frozenset({"peak", "peak-unspecified"})
SENTENCES = "Sentences stay in the units they were judged in."


@dataclass(frozen=True, slots=True)
class Display:
    """How one site reads: its profile and its time zone."""

    profile: Profile = field(default_factory=Profile)
    zone: dt.tzinfo = dt.UTC

    def moment(self, moment: dt.datetime | None) -> str:
        """A time to the minute, with its offset where it is not UTC."""
        if moment is None:
            return ""
        if not self.profile.local_time:
            return f"{moment.astimezone(dt.UTC):%Y-%m-%d %H:%M}"
        text = f"{moment.astimezone(self.zone):%Y-%m-%d %H:%M %z}"
        return f"{text[:-2]}:{text[-2:]}"

    def stamp(self, moment: dt.datetime | None) -> str:
        """As `moment`, with its zone in any case; for sentences."""
        text = self.moment(moment)
        return f"{text} UTC" if text and not self.profile.local_time else text

    def day(self, moment: dt.datetime) -> str:
        """The day of the site in which a moment lies."""
        return f"{moment.astimezone(self.zone):%Y-%m-%d}"

    def words(self, row: Mapping[str, Any]) -> str | None:
        """The judged value and its boundaries in this profile; none where it is canonical."""
        shown = self.values(row)
        if self.profile.canonical or "value" not in shown:
            return None
        told = [f"{name} {shown[key].words}" for key, name in _TOLD.items() if key in shown]
        return "; ".join([f"Shown: {shown['value'].words}", *told])

    def values(self, row: Mapping[str, Any]) -> dict[str, Shown]:
        """What of a row with quantity, detector and canonical values is shown, by column."""
        quantity, detector = row.get("quantity"), row.get("detector")
        if not quantity or not detector:
            return {}
        found = {}
        for name in (*_VALUES, *_DIFFERENCES):
            if row.get(name) is not None:
                of = "rms" if name in _ZONES and detector in _PEAKS else detector
                found[name] = self.profile.shown(quantity, of, row[name], name in _DIFFERENCES)
        return found

    def power(self, kilowatts: float | None) -> Shown | None:
        """A rated power."""
        return None if kilowatts is None else self.profile.shown("power", "value", kilowatts)


@dataclass(frozen=True, slots=True)
class Displays:
    """How each site reads."""

    by_site: Mapping[str, Display]

    def of(self, site: str | None) -> Display:
        """How a site reads; canonical where it is not known."""
        return self.by_site.get(site or "", _CANONICAL)

    def changed(self, sites: Iterable[str | None]) -> bool:
        """Whether any of the sites reads otherwise than canonically."""
        return any(not self.of(site).profile.canonical for site in sites)

    def local(self, sites: Iterable[str | None]) -> bool:
        """Whether any of the sites reads local times."""
        return any(self.of(site).profile.local_time for site in sites)

    def moments(self, sites: Iterable[str | None]) -> Callable[[str | None, Any], str]:
        """How times in a table of those sites are shown: each with its zone where one is local."""
        if self.local(sites):
            return lambda site, moment: self.of(site).stamp(moment)
        return lambda site, moment: self.of(site).moment(moment)

    def told(self, sites: Iterable[str | None]) -> str:
        """The profiles of those sites in a sentence; empty where all of them are `si`."""
        listed = sorted({site for site in sites if site} & self.by_site.keys())
        if not self.changed(listed):
            return ""
        names = "; ".join(f"{site} {self.of(site).profile.name}" for site in listed)
        return f"Shown in the display profile of each site ({names}). {SENTENCES}"

    def beside(self, rows: Sequence[Row], moments: Iterable[str] = ()) -> list[Row]:
        """Rows with `display` added: the profile, what is shown in it, and local times."""
        names = tuple(moments)
        return [row | {"display": self._display(row, names)} for row in rows]

    def _display(self, row: Row, moments: tuple[str, ...]) -> Row:
        display = self.of(row.get("site"))
        shown = display.values(row)
        told: Row = {"profile": display.profile.name}
        if "value" in shown:
            told |= {"unit": shown["value"].unit, "detector": shown["value"].detector}
        told |= {name: one.value for name, one in shown.items()}
        power = display.power(row.get("power_kw"))
        if power is not None:
            told |= {"power": power.value, "power_unit": power.unit}
        if display.profile.local_time:
            times = {name: row[name] for name in moments if row.get(name) is not None}
            told |= {
                name: time.astimezone(display.zone).isoformat() for name, time in times.items()
            }
        return told


_CANONICAL = Display()


def displays_of(store: Store) -> Displays:
    """How each site reads by the registry as it stands: this changes no judgement."""
    events = registry_events(store)
    return displays_in(
        current_entities(events.filter(pc.equal(events["entity"], SITES.name)))[SITES.name]
    )


def displays_in(sites: pa.Table) -> Displays:
    """How each site reads, by rows of the registry's sites."""
    return Displays(
        {
            row["site"]: Display(parse_profile(row["display_profile"]), ZoneInfo(row["time_zone"]))
            for row in sites.to_pylist()
        }
    )
