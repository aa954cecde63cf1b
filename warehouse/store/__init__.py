"""The store: Delta tables in a folder. Layout, commit, pinned snapshots.

HOME/mcw.toml        settings
HOME/store.toml      format version and identity of the store
HOME/inbox/          ledger and payloads: local, private
HOME/tables/NAME/    one Delta table each: the dataset, open to any engine
"""

from warehouse.store.layout import Store, create_store, open_store
from warehouse.store.snapshot import Snapshot

__all__ = ["Snapshot", "Store", "create_store", "open_store"]
