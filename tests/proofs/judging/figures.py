"""The figures of the proof, and how they are printed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from scipy.stats import chi2

from ingest_examples.large.truth import Row
from tests.proofs.judging.verdicts import DAY, YEAR, Episode, Verdict, seconds

_RECENT = 3 * DAY
"""What happened so shortly before an alert is named beside it."""


def poisson_upper(count: int, confidence: float = 0.95) -> float:
    """Exact one-sided upper bound of a Poisson mean of which `count` were seen.

    By its relation to chi-square: Biometrika 28 (1936) 437-442, "Fiducial limits for the
    Poisson distribution"; none seen gives 3.00.
    """
    return float(chi2.ppf(confidence, 2 * (count + 1)) / 2)


@dataclass(frozen=True, slots=True)
class Rate:
    """False alerts in some machine-years of sound running or standing."""

    alerts: int
    machine_years: float

    @classmethod
    def of(cls, verdicts: Iterable[Verdict]) -> Rate:
        """The rate of some machines."""
        verdicts = list(verdicts)
        years = sum(v.sound_seconds for v in verdicts) / YEAR
        return cls(sum(len(v.false_alerts) for v in verdicts), years)

    @property
    def per_hundred(self) -> float:
        """False alerts per hundred machine-years."""
        return 100 * self.alerts / self.machine_years if self.machine_years else float("nan")

    @property
    def upper(self) -> float:
        """The upper 95 % bound of that."""
        if not self.machine_years:
            return float("inf")
        return 100 * poisson_upper(self.alerts) / self.machine_years

    def __str__(self) -> str:
        return (
            f"{self.alerts} in {self.machine_years:.0f} machine-years = "
            f"{self.per_hundred:.1f} per hundred (upper {self.upper:.1f})"
        )


def detectable(verdicts: Iterable[Verdict]) -> list[Verdict]:
    """Failures of which something was read before they came."""
    return [v for v in verdicts if v.planted.kind and v.planted.detectable]


def found(verdicts: Iterable[Verdict]) -> int:
    """How many of them were alerted in time."""
    return sum(v.alerted is not None for v in verdicts)


_HEAD = f"  {'failures that could be seen':<34}  alerted  P10 d  median   watched  P10 d  median"


def _failures(name: str, verdicts: Sequence[Verdict]) -> str:
    """Found of all and days of warning, by alert or worse and by watch or worse."""
    cells = [f"  {name:<34}"]
    for moments in ([v.alerted for v in verdicts], [v.watched for v in verdicts]):
        pairs = zip(verdicts, moments, strict=True)
        days = [v.warning_days(moment) for v, moment in pairs]
        tenth, median = np.percentile(days, [10, 50])
        number = f"{sum(m is not None for m in moments)}/{len(moments)}"
        cells.append(f"{number:>8} {tenth:>6.0f} {median:>7.0f}")
    return "  ".join(cells)


_BY: dict[str, Callable[[Verdict], str]] = {
    "by type and method": lambda v: f"{v.planted.kind}, {v.planted.method}",
    "by growth law": lambda v: v.planted.law,
    "by pace and method": lambda v: f"{v.planted.pace}, {v.planted.method}",
}


def found_lines(verdicts: Iterable[Verdict]) -> Iterator[str]:
    """Found of all, and days of warning, by type, growth and method."""
    chosen = detectable(verdicts)
    unseen = [v for v in verdicts if v.planted.kind and not v.planted.detectable]
    if chosen:
        yield _HEAD
        yield _failures("all", chosen)
    for name, key in _BY.items():
        if chosen:
            yield f"  {name}"
        for group, members in groupby(sorted(chosen, key=key), key):
            yield _failures(f"  {group}", list(members))
    yield f"  and {len(unseen)} that nothing showed before they came: not counted above"


def false_lines(verdicts: Iterable[Verdict], rows: Iterable[Row]) -> Iterator[str]:
    """False alerts by method, by what they rested on, and by what was going on."""
    verdicts, rows = list(verdicts), list(rows)
    yield f"  false alerts: {Rate.of(verdicts)}"
    for method in ("online", "route"):
        own = [v for v in verdicts if v.planted.method == method]
        if own:
            yield f"    {method}: {Rate.of(own)}"
    bases: Counter[str] = Counter()
    causes: Counter[str] = Counter()
    for verdict in verdicts:
        for episode in verdict.false_alerts:
            bases[episode.basis] += 1
            causes[_going_on(verdict, episode, rows)] += 1
    for title, counts in (("resting on", bases), ("while", causes)):
        told = ", ".join(f"{name} {number}" for name, number in counts.most_common())
        if told:
            yield f"    {title}: {told}"
    yield f"    false watches: {sum(v.false_watches for v in verdicts)}"
    yield f"    sound machines stood at: {_shares(verdicts)}"


def _going_on(verdict: Verdict, episode: Episode, rows: Iterable[Row]) -> str:
    """What disturbed the machine when the alert came; else how it runs."""
    tag, kinds, pattern = verdict.planted.asset, set(), ""
    for row in rows:
        if row.asset != tag:
            continue
        if row.what == "machine":
            pattern = row.kind
        elif row.what in ("disturbance", "corruption") and (
            seconds(row.begins) - DAY <= episode.begins <= seconds(row.ends) + _RECENT
        ):
            kinds.add(row.kind)
    return "+".join(sorted(kinds)) or f"{pattern}, undisturbed"


def _shares(verdicts: Iterable[Verdict]) -> str:
    levels: Counter[str] = Counter()
    for verdict in verdicts:
        levels.update(verdict.sound_levels)
    total = levels.total() or 1
    order = ("normal", "watch", "alert", "danger", "unknown")
    return ", ".join(f"{level} {100 * levels[level] / total:.1f} %" for level in order)


def last_lines(passed: int, tests: int, verdicts: Sequence[Verdict]) -> list[str]:
    """What the proof ends with."""
    chosen, rate = detectable(verdicts), Rate.of(verdicts)
    return [
        f"outside {passed}/{tests}  found {found(chosen)}/{len(chosen)}  false alerts per 100 "
        f"machine-years {rate.per_hundred:.1f} (upper {rate.upper:.1f})",
        "on invented data; says nothing of your plant",
    ]
