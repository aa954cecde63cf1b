"""Numbers and moments in the words of the views, for sentences made here."""

from __future__ import annotations

import datetime as dt


def number(value: float | None) -> str:
    """A number with three figures, as the macro `number_text` writes it."""
    if value is None:
        return "not known"
    size = abs(value)
    return f"{value:.2f}" if size < 9.995 else f"{value:.1f}" if size < 99.95 else f"{value:.0f}"


def moment(value: dt.datetime | None) -> str:
    """A moment to the minute, UTC, as the macro `time_text` writes it."""
    return "never" if value is None else f"{value.astimezone(dt.UTC):%Y-%m-%d %H:%M} UTC"


def share(value: float | None) -> str:
    """A share in per cent."""
    return "no share" if value is None else f"{100 * value:.0f} %"


def probability(value: float | None) -> str:
    """A probability; small ones as less than one in a thousand."""
    if value is None:
        return "not known"
    return "below 0.001" if value < 0.001 else f"{value:.3f}"
