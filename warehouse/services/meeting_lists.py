"""The meeting sheet and the outage list as flat tables, values as their site reads them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from schemas.display import Shown
from warehouse.refusals import plain_refusals
from warehouse.services.displaying import Display, Displays
from warehouse.services.meetings import MeetingSheet, OutageList
from warehouse.wording import counted
from warehouse.work.listing_book import Listing, listing_book

Row = dict[str, Any]
_Cell = Callable[[Row, Display], Any]


def _plain(name: str) -> _Cell:
    return lambda row, _: row[name]


def _moment(name: str) -> _Cell:
    return lambda row, display: display.stamp(row[name]) or None


def _day(name: str) -> _Cell:
    return lambda row, _: row[name] and row[name].isoformat()


def _value(name: str) -> _Cell:
    def cell(row: Row, display: Display) -> float | None:
        shown = display.values(row).get(name)
        return None if shown is None else shown.value

    return cell


def _measure(row: Row, display: Display) -> str | None:
    shown = display.values(row).get("value")
    return None if shown is None else f"{row['quantity']}, {shown.measure}"


def _power(row: Row, display: Display) -> str | None:
    shown: Shown | None = display.power(row["power_kw"])
    return None if shown is None else shown.words


def _yes(name: str) -> _Cell:
    return lambda row, _: None if row[name] is None else ("yes" if row[name] else "no")


_MACHINE: Mapping[str, _Cell] = {
    "Case": _plain("case_id"),
    "Priority": _plain("priority"),
    "Site": _plain("site"),
    "Area": _plain("area"),
    "Asset": _plain("asset"),
    "Name": _plain("asset_name"),
    "Asset id": _plain("asset_external_id"),
    "Criticality": _plain("criticality"),
    "Machine": _plain("member"),
    "Machine id": _plain("member_external_id"),
}
_EVIDENCE: Mapping[str, _Cell] = {
    "Level": _plain("level"),
    "Since": _moment("level_since"),
    "Condition that bad since": _day("condition_since"),
    "Basis": _plain("basis"),
    "State": _plain("state"),
    "Evidence": _plain("reason"),
    "Position": _plain("position"),
    "Axis": _plain("axis"),
    "Value": _value("value"),
    "Measure": _measure,
    "B/C": _value("boundary_b_c"),
    "C/D": _value("boundary_c_d"),
    "Measured": _moment("measured_at"),
}
_WORK: Mapping[str, _Cell] = {
    "Action": _plain("action_class"),
    "Confirmed": _yes("confirmed"),
    "Respond by": _moment("respond_by"),
    "Owner": _plain("owner"),
    "Order": _plain("order_id"),
    "Next step": _plain("next_step"),
}
_SHEET: Mapping[str, _Cell] = {
    "Heading": _plain("heading"),
    "Since last time": _plain("change"),
    **_MACHINE,
    **_EVIDENCE,
    **_WORK,
}
_OUTAGE: Mapping[str, _Cell] = {
    "Heading": _plain("heading"),
    "Why": _plain("why"),
    **_MACHINE,
    "Power": _power,
    **_EVIDENCE,
    "Limits": _plain("limit_edition"),
    "Confidence": _plain("confidence"),
    "Assumed": _plain("assumed"),
    "Doubts": _plain("distrust"),
    "Seen on the route": _plain("observations"),
    "At boundary": _moment("boundary_on"),
    "Not before": _moment("boundary_from"),
    "Stand-in": _plain("standby"),
    "Stand-in, why": _plain("standby_words"),
    "Bearing": _plain("bearing"),
    "Coupling": _plain("coupling"),
    "Area classification": _plain("area_classification"),
    **_WORK,
}


def sheet_listing(sheet: MeetingSheet, displays: Displays) -> Listing:
    """The meeting sheet, one row an entry."""
    notes = [sheet_words(sheet), *_notes(sheet.rows, sheet.cautions, displays)]
    title = f"Meeting sheet since {sheet.since}"
    return Listing(title, notes, tuple(_SHEET), _rows(_SHEET, sheet.rows, displays))


def outage_listing(found: OutageList, displays: Displays) -> Listing:
    """The outage list, one row a case."""
    notes = [outage_words(found), *_notes(found.rows, found.cautions, displays)]
    title = f"Outage {found.windows.first} to {found.windows.last}"
    return Listing(title, notes, tuple(_OUTAGE), _rows(_OUTAGE, found.rows, displays))


def sheet_words(sheet: MeetingSheet) -> str:
    """How much is open and silent at all, in a sentence."""
    return (
        f"As of {sheet.as_of:%Y-%m-%d %H:%M} UTC, of {counted(sheet.machines, 'machine')}: "
        f"{counted(sheet.open_cases, 'case')} open, {sheet.silent_machines or 'none'} silent."
    )


def outage_words(found: OutageList) -> str:
    """The windows, and what is not on the list, in a sentence."""
    windows = found.windows
    return (
        f"As of {found.as_of:%Y-%m-%d %H:%M} UTC. The next window is {windows.next_first} to "
        f"{windows.next_last}. Open cases that need no outage: {found.without_outage}."
    )


def _notes(rows: Sequence[Row], cautions: Sequence[str], displays: Displays) -> list[str]:
    told = displays.told(row["site"] for row in rows)
    return [*cautions, *filter(None, (told,))]


def _rows(columns: Mapping[str, _Cell], rows: Sequence[Row], displays: Displays) -> list[list[Any]]:
    return [[cell(row, displays.of(row["site"])) for cell in columns.values()] for row in rows]


def write_listing(listing: Listing, target: Path) -> int:
    """Write a listing as XLSX; how many rows. Raises as the machine refuses."""
    content = listing_book(listing)
    with plain_refusals(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    return len(listing.rows)
