"""Why an item was refused: the closed list of reject reasons, each with its remedy."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

KEPT_REJECTS = 1_000
"""Refused items of one package and reason that are kept with their text; all are counted."""


@dataclass(frozen=True, slots=True)
class RejectReason:
    """One reason: what it means, what mends it, and whether a replay can help.

    A replay reads a package again under its own mapping: it helps where the
    registry was completed. After a mended mapping the file is taken in anew.
    """

    code: str
    meaning: str
    remedy: str
    replayable: bool


_ALL = (
    RejectReason(
        "undecodable",
        "the line or document does not have the declared form",
        "ask the source for the file again, or mend the mapping's file section and send it again",
        False,
    ),
    RejectReason(
        "bad-number",
        "the value is neither a finite number nor a declared null or over-range mark",
        "declare the mark under [values] in the mapping, or mend the decimal mark, then send the "
        "file again",
        False,
    ),
    RejectReason(
        "impossible-value",
        "a detector that cannot be negative carries a negative value, "
        "or a temperature lies below absolute zero",
        "mend the mapping's quantity, detector or unit, then send the file again; else the source",
        False,
    ),
    RejectReason(
        "bad-time",
        "the time is blank or not in the declared format",
        "mend the format under [time] in the mapping, then send the file again",
        False,
    ),
    RejectReason(
        "missing-hour",
        "the local time does not exist in its zone (clocks went forward)",
        "declare the right zone, or have the source export in UTC, then send the file again",
        False,
    ),
    RejectReason(
        "ambiguous-hour",
        "the local time stands for two instants (clocks went back)",
        "declare `ambiguous` under [time] in the mapping, or export in UTC, then send the file "
        "again",
        False,
    ),
    RejectReason(
        "time-out-of-range",
        "the time lies outside [receipt - 20 years, receipt + 1 day]",
        "mend the clock of the device, or the format under [time], then send the file again",
        False,
    ),
    RejectReason(
        "unknown-quantity",
        "the quantity is not in the code list",
        "map the source's word to a quantity code in the mapping, then send the file again",
        False,
    ),
    RejectReason(
        "unknown-detector",
        "the detector is not in the code list",
        "map the source's word to a detector code in the mapping, then send the file again",
        False,
    ),
    RejectReason(
        "unknown-unit",
        "the unit is not in the unit table",
        "map the source's word to a UCUM code in the mapping, then send the file again",
        False,
    ),
    RejectReason(
        "unit-mismatch",
        "the unit does not measure this quantity with this detector",
        "mend quantity, detector or unit in the mapping, then send the file again",
        False,
    ),
    RejectReason(
        "bad-band",
        "the band is not of the form LOW-HIGHHz, or missing for a vibration quantity",
        "state the band in the mapping, such as 10-1000Hz, then send the file again",
        False,
    ),
    RejectReason(
        "blank-identity",
        "device or channel is blank",
        "ask the source for the complete export, or mend the mapping and send the file again",
        False,
    ),
    RejectReason(
        "date-typed-identity",
        "a spreadsheet turned a device, channel or stop code into a date",
        "format the column as text in the workbook and send it again",
        False,
    ),
    RejectReason(
        "unknown-device",
        "no mounting names this device",
        "register a mounting for the device, then replay",
        True,
    ),
    RejectReason(
        "unknown-channel",
        "the device is registered, this channel of it is not",
        "register a mounting for the channel, then replay",
        True,
    ),
    RejectReason(
        "unknown-stop",
        "no registered route has this stop, or it is not of the route of its sheet",
        "register the stop on its route, then replay; hand a sheet back for its route",
        True,
    ),
    RejectReason(
        "unknown-point",
        "the source names a point that is not registered",
        "register the point, then replay",
        True,
    ),
    RejectReason(
        "other-site",
        "a key of some sites hands over what its source has said of a machine of another site",
        "give each site a source of its own",
        False,
    ),
    RejectReason(
        "unknown-machine",
        "a maintenance event names a machine that is not registered, or an external id that "
        "several have",
        "register the asset or member, or its external id, then replay",
        True,
    ),
    RejectReason(
        "unknown-activity",
        "a maintenance event carries an activity that the activity table does not have",
        "translate it in the mapping and send it again, or add it to the plant's activity table, "
        "then replay",
        True,
    ),
    RejectReason(
        "bad-code",
        "a maintenance event, or a stop of a route sheet, carries a word that is not in the code "
        "list of its attribute, or a result that contradicts the values beside it",
        "translate it in the mapping, or correct the sheet, then send it again",
        False,
    ),
    RejectReason(
        "impossible-event",
        "a maintenance event ends before it begins, lies in the future, or has negative hours",
        "have the maintenance system correct it; a later version takes its place",
        False,
    ),
    RejectReason(
        "not-mounted",
        "the channel is registered, but was on no machine at that time",
        "correct the mounting's dates if they are wrong, then replay",
        True,
    ),
)

REJECT_REASON: Mapping[str, RejectReason] = MappingProxyType({r.code: r for r in _ALL})
"""Reason by code."""
