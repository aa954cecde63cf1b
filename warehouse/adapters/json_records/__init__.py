"""JSON: an array of records somewhere in a document, or a document a line.

A mapping's fields are paths: keys joined by dots, from the record on, or from
the document on where they start with `$.`. Of a document that breaks off, the
complete records before the break are kept.
"""

from warehouse.adapters.json_records.reader import JsonRecordsAdapter

ADAPTER = JsonRecordsAdapter()
