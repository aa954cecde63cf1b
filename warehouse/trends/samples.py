"""Many short series side by side: one row each, the shorter ones filled up with NaN."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_TIE = 1e-9


@dataclass(frozen=True, slots=True)
class Samples:
    """Values by day in rising order of days; row `i` has `counts[i]` of them, NaN behind.

    `days` are numbers of days, the gaps between them count as time.
    """

    days: Floats
    values: Floats
    counts: Ints

    @classmethod
    def of(cls, days: Floats, values: Floats, counts: Ints) -> Samples:
        """From the days and values of all series one after the other, `counts[i]` of series i."""
        return cls(_padded(days, counts), _padded(values, counts), counts)

    @property
    def present(self) -> Bools:
        """Where there is a value."""
        places: Bools = np.arange(self.values.shape[1]) < self.counts[:, None]
        return places

    @property
    def tie(self) -> Floats:
        """Differences up to this are ties: a billionth of the row's largest value.

        Only so do ties outlast a change of unit or of the zero point.
        """
        largest = np.fmax(np.abs(self.values), 0).max(axis=1, keepdims=True)
        scaled: Floats = _TIE * largest
        return scaled

    def part(self, start: int, stop: int) -> Samples:
        """Some rows, no wider than the longest of them."""
        counts = self.counts[start:stop]
        width = int(counts.max(initial=0))
        return Samples(self.days[start:stop, :width], self.values[start:stop, :width], counts)


def _padded(numbers: Floats, counts: Ints) -> Floats:
    matrix = np.full((len(counts), int(counts.max(initial=0))), np.nan)
    matrix[np.arange(matrix.shape[1]) < counts[:, None]] = numbers
    return matrix
