"""Delimited text (CSV and its relatives), one record a line.

A mapping's fields are the column names of the header line. A line with too few
or too many columns, an unclosed quote, bytes that are not of the declared
encoding, or more than the allowed length is refused on its own; the rest goes on.
"""

from warehouse.adapters.delimited.reader import DelimitedAdapter

ADAPTER = DelimitedAdapter()
