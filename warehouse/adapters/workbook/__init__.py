"""Spreadsheet workbooks (XLSX, ODS), one record a row of one sheet.

A mapping's fields are the column names of the header row. Cells become text as
a person would read them; a date cell becomes ISO 8601 text. A device, channel
or stop that the spreadsheet turned into a date is refused: it cannot be told
what the code was.
"""

from warehouse.adapters.workbook.reader import WorkbookAdapter

ADAPTER = WorkbookAdapter()
