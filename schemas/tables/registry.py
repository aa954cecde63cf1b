"""`registry`: the plant as one append-only table of events, and the entities its bodies hold.

An event states an entity as it is from `valid_from` on; the last recorded event
of an entity and id counts, a null body withdraws it. Terms follow IEC 62264
(site, area), ISO 14224 (equipment class) and ISO 13373-1 (position, axis).
"""

from __future__ import annotations

from schemas.columns import Column, Table

REGISTRY = Table(
    name="registry",
    purpose="What the plant consists of and which device sat where, as an append-only log.",
    grain="one row a statement about one entity",
    columns=(
        Column("entity", "string", "kind of thing the event is about", required=True),
        Column("id", "string", "key of the thing, its key columns joined by `/`", required=True),
        Column("valid_from", "timestamp", "from when the statement holds, UTC; null = always"),
        Column("recorded_at", "timestamp", "when it was recorded here, UTC", required=True),
        Column("event_set", "int64", "events imported together share this number", required=True),
        Column("body", "string", "the entity as a JSON object; null withdraws it"),
    ),
    key=("entity", "id", "recorded_at"),
    sort_by=("entity", "id", "recorded_at"),
)

_ASSET_KEY = (
    Column("site", "string", "site code", required=True),
    Column("asset", "string", "asset tag, unique within its site", required=True),
)
_POINT_KEY = (
    *_ASSET_KEY,
    Column("position", "string", "measuring position, such as motor-nde", required=True),
)
_TO_POINT = (
    *_POINT_KEY,
    Column("axis", "string", "direction the channel measures; blank for a scalar", codes="AXIS"),
)
_ASSUMED = Column(
    "assumed", "string", "names of the fields here that are assumed, not known, separated by spaces"
)
_PLATE = Column("plate_code", "string", "what the QR code or plate fixed to it reads")
_PICTURE = Column("picture", "string", "where a picture of it is kept: a path or an address")

SITES = Table(
    "sites",
    "A plant location.",
    "one row a site",
    (
        Column("site", "string", "site code, a slug", required=True),
        Column("name", "string", "name in plain words", required=True),
        Column(
            "time_zone",
            "string",
            "IANA time zone, for local days and date-only readings",
            required=True,
        ),
        Column("enterprise", "string", "the group the site belongs to"),
        Column(
            "display_profile",
            "string",
            "units its people read: si (also where blank), us-customary, or parts such as "
            "`velocity=[in_i]/s derived-peak; temperature=[degF]; time=local` (rule W7)",
        ),
    ),
    key=("site",),
)

ASSETS = Table(
    "assets",
    "A tag: the place of a machine train (rule M1).",
    "one row an asset",
    (
        *_ASSET_KEY,
        Column("name", "string", "name in plain words", required=True),
        Column("area", "string", "area of the site (IEC 62264)"),
        Column("criticality", "string", "criticality class", codes="CRITICALITY"),
        Column("service_state", "string", "service state", required=True, codes="SERVICE_STATE"),
        Column("service_from", "timestamp", "since when it is in that state"),
        Column("external_id", "string", "identifier in the maintenance system"),
        Column(
            "duty_group",
            "string",
            "assets of a site that can stand in for each other share it, such as duty and standby",
        ),
        _PLATE,
        _PICTURE,
    ),
    key=("site", "asset"),
)

MEMBERS = Table(
    "members",
    "A machine of a train (rule M1): limits follow it (rule M2).",
    "one row a member",
    (
        *_ASSET_KEY,
        Column(
            "member", "string", "member code within the train, such as motor or pump", required=True
        ),
        Column("role", "string", "role in the train", required=True, codes="MEMBER_ROLE"),
        Column(
            "equipment_class", "string", "class of machine", required=True, codes="EQUIPMENT_CLASS"
        ),
        Column("rated_power_kw", "float64", "rated shaft power", "kW"),
        Column("shaft_height_mm", "float64", "shaft height of an electrical machine", "mm"),
        Column("support_axial", "string", "support stiffness, axial direction", codes="SUPPORT"),
        Column(
            "support_horizontal",
            "string",
            "support stiffness, horizontal or in-line direction",
            codes="SUPPORT",
        ),
        Column(
            "support_vertical",
            "string",
            "support stiffness, vertical or cross direction",
            codes="SUPPORT",
        ),
        Column("pump_type", "string", "construction of a pump, in words"),
        Column("pump_category", "string", "category of a rotodynamic pump", codes="PUMP_CATEGORY"),
        Column(
            "fan_application",
            "string",
            "what a fan serves: chooses its category",
            codes="FAN_APPLICATION",
        ),
        Column("vane_count", "int32", "vanes, blades, or lobes of the rotor", "1"),
        Column("rated_speed", "float64", "rated speed of the member's shaft", "/min"),
        Column("min_speed", "float64", "lowest speed it runs at", "/min"),
        Column("max_speed", "float64", "highest speed it runs at", "/min"),
        Column("drive", "string", "how it is driven, or drives", codes="DRIVE"),
        Column("supply", "string", "supply of a motor: mains or frequency-converter"),
        Column("external_id", "string", "identifier in the maintenance system"),
        _ASSUMED,
    ),
    key=("site", "asset", "member"),
)

UNITS_TABLE = Table(
    "units",
    "A serial number: a machine one can carry to another place (rule M1).",
    "one row a unit",
    (
        Column("serial", "string", "serial number", required=True),
        Column(
            "equipment_class", "string", "class of machine", required=True, codes="EQUIPMENT_CLASS"
        ),
        Column("description", "string", "maker's data in plain words"),
        Column("bearing_de", "string", "bearing designation, drive end"),
        Column("bearing_nde", "string", "bearing designation, non-drive end"),
    ),
    key=("serial",),
)

INSTALLATIONS = Table(
    "installations",
    "Which unit sat in which member, from when to when (rule M1).",
    "one row an installation",
    (
        Column("serial", "string", "serial number of the unit", required=True),
        *_ASSET_KEY,
        Column("member", "string", "member it sits in", required=True),
        Column("installed_from", "timestamp", "installed at, UTC", required=True),
        Column("installed_to", "timestamp", "taken out at, UTC; blank while it is in"),
    ),
    key=("serial", "installed_from"),
)

SHAFTS = Table(
    "shafts",
    "A shaft of a train and its ratio to the reference shaft (rule M3).",
    "one row a shaft",
    (
        *_ASSET_KEY,
        Column(
            "shaft", "string", "shaft code within the train, such as input or output", required=True
        ),
        Column(
            "ratio", "float64", "speed over the speed of the reference shaft", "1", required=True
        ),
        Column(
            "reference_shaft", "string", "shaft the ratio refers to; blank for the reference itself"
        ),
        _ASSUMED,
    ),
    key=("site", "asset", "shaft"),
)

POINTS = Table(
    "points",
    "A measuring position of an asset (rule M4).",
    "one row a position",
    (
        *_POINT_KEY,
        Column("member", "string", "member the position sits on", required=True),
        Column("shaft", "string", "shaft it listens to"),
        Column("bearing_housing", "bool", "zones apply at bearing housings only", required=True),
        Column("thrust_end", "bool", "axial zones apply at thrust bearings only", required=True),
        Column(
            "part",
            "string",
            "part of a reciprocating machine the position sits on; blank elsewhere",
            codes="POINT_PART",
        ),
        Column("bearing", "string", "bearing designation"),
        Column("angle_deg", "float64", "angle of the radial direction, counter-clockwise", "deg"),
        Column("area_classification", "string", "hazardous-area marking; blank = none"),
    ),
    key=("site", "asset", "position"),
)

DEVICES = Table(
    "devices",
    "A sensor, logger or meter.",
    "one row a device",
    (
        Column("device", "string", "identifier the source sends", required=True),
        Column("kind", "string", "kind of device in plain words", required=True),
        Column("method", "string", "how it measures", required=True, codes="METHOD"),
        Column("interval_minutes", "float64", "declared interval between readings", "min"),
        Column("area_classification", "string", "hazardous-area marking; blank = none"),
        _PLATE,
        _PICTURE,
    ),
    key=("device",),
)

MOUNTINGS = Table(
    "mountings",
    "Which channel of which device sat at which point, from when to when (rule M7).",
    "one row a mounting",
    (
        Column("device", "string", "identifier the source sends", required=True),
        Column("channel", "string", "channel of the device", required=True),
        *_TO_POINT,
        Column("mounted_from", "timestamp", "mounted at, UTC", required=True),
        Column("mounted_to", "timestamp", "taken off at, UTC; blank while it is on"),
        Column("mounting_method", "string", "how it is fixed", codes="MOUNTING_METHOD"),
        Column("upper_frequency_hz", "float64", "highest frequency the mounting carries", "Hz"),
        Column("range_quantity", "string", "quantity that `range_high` is of", codes="QUANTITY"),
        Column(
            "range_high",
            "float64",
            "end of the measuring range, as the channel tells it",
            unit="canonical unit of `range_quantity`",
        ),
        Column(
            "commissioning",
            "string",
            "result of the commissioning checks",
            required=True,
            codes="COMMISSIONING",
        ),
    ),
    key=("device", "channel", "mounted_from"),
)

ROUTES = Table(
    "routes",
    "A stop of a walked route (rule W4): where the technician holds the meter.",
    "one row a stop",
    (
        Column("route", "string", "route code", required=True),
        Column("stop", "string", "stop code, as printed on the sheet", required=True),
        Column("walk_order", "int32", "order on the walk", "1", required=True),
        *_TO_POINT,
        Column("interval_days", "float64", "declared interval between walks", "d", required=True),
        Column("window_days", "float64", "how late a walk may be and still be in time", "d"),
        Column("mounting_method", "string", "how the meter is held", codes="MOUNTING_METHOD"),
        Column("meter", "string", "device usually carried; printed on the sheet"),
        Column("quantity", "string", "quantity to read", codes="QUANTITY"),
        Column("detector", "string", "detector the meter shows", codes="DETECTOR"),
        Column("band", "string", "frequency band of the meter as LOW-HIGHHz"),
        Column("unit", "string", "UCUM unit the meter shows"),
        Column(
            "temperature_unit",
            "string",
            "UCUM unit of the temperature read at the stop as well; blank = none is read",
        ),
    ),
    key=("route", "stop"),
)

LIMIT_ASSIGNMENTS = Table(
    "limit_assignments",
    "A limit set given by hand to a member, or to one point of it, before the rules choose one.",
    "one row an assignment",
    (
        *_ASSET_KEY,
        Column("member", "string", "member it holds for", required=True),
        Column("position", "string", "the one position it holds for; blank = the whole member"),
        Column(
            "limit_set",
            "string",
            "identifier of the limit set, or SET/GROUP",
            required=True,
        ),
        Column("limit_group", "string", "group within the set; blank = the one that fits by rule"),
        Column("assigned_from", "timestamp", "in force from, UTC", required=True),
        Column("assigned_to", "timestamp", "in force until, UTC; blank = still"),
        Column("assigned_by", "string", "who decided", required=True),
        Column("reason", "string", "why it was given by hand", required=True),
    ),
    key=("site", "asset", "member", "position", "assigned_from"),
)

ENTITIES: dict[str, Table] = {
    table.name: table
    for table in (
        SITES,
        ASSETS,
        MEMBERS,
        UNITS_TABLE,
        INSTALLATIONS,
        SHAFTS,
        POINTS,
        DEVICES,
        MOUNTINGS,
        ROUTES,
        LIMIT_ASSIGNMENTS,
    )
}
"""Entity tables by name. Each is also a CSV of the same name at import."""
