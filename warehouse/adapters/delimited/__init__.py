"""Delimited text (CSV and its relatives), one record a line.

A mapping's fields are the column names of the header line. A line with too few
or too many columns, bytes that are not of the declared encoding, or more than
the allowed length is refused on its own; the rest goes on. A quote that opens a
cell and is never closed takes along what stands behind it, up to the next quote:
declare another `quote` for a source that does not quote.
"""

from warehouse.adapters.delimited.reader import DelimitedAdapter

ADAPTER = DelimitedAdapter()
