"""Delimited text (CSV and its relatives), one record a line; a quoted cell may go on over lines.

A mapping's fields are the column names of the header line. A line with too few
or too many columns, bytes that are not of the declared encoding, or more than
the allowed length is refused on its own; the rest goes on. So is a line whose
quotes are not in order: one that opens a cell and closes no cell on a later
line, or text behind one that closes. Declare another `quote` for a source that
does not quote.
"""

from warehouse.adapters.delimited.reader import DelimitedAdapter

ADAPTER = DelimitedAdapter()
