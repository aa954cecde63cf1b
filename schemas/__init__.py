"""The open schema: what every row of the dataset means.

Nothing here reads or writes anything, and nothing here imports another
package of this project. Start with `schemas.tables` (one module a table),
`schemas.codes` (closed code lists) and `schemas.units` (UCUM codes and their
canonical units).
"""

FORMAT_VERSION = 3
"""Version of the dataset format; a store and its ledger both carry it."""
