"""SenML JSON packs (RFC 8428): base fields resolved, units as UCUM codes.

The fields a mapping can take are fixed: `name`, `device`, `channel`, `unit`,
`value`, `time` (seconds since 1970, UTC). Records without a number (text,
boolean, data or a sum alone) are refused, and so is a pack of a version or
with a must-understand label that is not known here.
"""

from warehouse.adapters.senml.reader import SenmlAdapter

ADAPTER = SenmlAdapter()
