"""What a package's life tells beyond its single moments."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from warehouse.inbox.package import Moment

_WITHDRAWN = "retracted"
_BROUGHT_BACK = "brought back"


def notes(life: Sequence[Moment]) -> Iterator[str]:
    """To each moment what its state alone does not say: that it ended a withdrawal."""
    before = ""
    for moment in life:
        again = moment.state == "duplicate"  # a receipt changes nothing of the package
        yield _BROUGHT_BACK if before == _WITHDRAWN and not again else ""
        before = before if again else moment.state


def withdrawn_since(life: Sequence[Moment]) -> dt.datetime | None:
    """When a package that is withdrawn was; None where that was not recorded."""
    times = [moment.at for moment in life if moment.state == _WITHDRAWN]
    return times[-1] if times else None
