"""The note beside the ledger: what it tells apart, and what it must not take for a loss."""

from __future__ import annotations

from pathlib import Path

import pytest

from warehouse.errors import ForeignLedgerError, OldLedgerError
from warehouse.inbox.seal import check_seal, renew_seal


def test_a_ledger_that_knows_less_or_is_another_is_refused(tmp_path: Path) -> None:
    check_seal(tmp_path, "one", lambda: 0)
    renew_seal(tmp_path, "one", 7)
    check_seal(tmp_path, "one", lambda: 7)
    with pytest.raises(OldLedgerError, match="lacks the last 1 received"):
        check_seal(tmp_path, "one", lambda: 6)
    with pytest.raises(ForeignLedgerError):
        check_seal(tmp_path, "other", lambda: 7)


def test_what_others_receive_meanwhile_is_not_taken_for_lost(tmp_path: Path) -> None:
    renew_seal(tmp_path, "one", 7)

    def asked_while_another_receives() -> int:
        renew_seal(tmp_path, "one", 11)
        return 7

    check_seal(tmp_path, "one", asked_while_another_receives)
