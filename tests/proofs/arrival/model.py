"""What must be there at the end, in plain dictionaries: no database, no cleverness.

The rules. A line that cannot be read is one item, refused; every other line is
one item for each value that is no blank. An item of an unknown device or channel,
or one that is no number, is refused with its reason. The others are readings: who
(source, device, channel), what and when tell which; on a route, what stands again
in the same file is another take. Readings of one identity are taken in order of
receipt, and within a file from the top: one that agrees within half of the last
printed digit with the one that counts is a duplicate and dropped; another value
is a revision, is stored beside it and counts from then on; a package that was
withdrawn does not speak.

What is determined whatever the order of processing and the kills:

- of every package: items, blanks, and which items are refused for which reason; that
  items = accepted + duplicate + revised + rejected; and, by the check of the store,
  that accepted + revised of them are stored;
- where no package was ever withdrawn: that each identity is accepted once;
- for every identity that no package ever withdrawn speaks of, and that was never
  without a place for a while (its device registered late, or its mounting corrected
  and put right again): which items are accepted, duplicate and revised, which rows are
  stored, and which row counts;
- for the others (`unsettled`): that exactly one row counts, of a package not
  withdrawn, with a value that agrees with the last one said. Which of several rows
  that agree is stored is not: a replayed package comes after later ones, and one
  that was withdrawn and brought back finds copies of its own that were put in its
  place. Nothing is promised there but that no value is lost, none is counted twice,
  and each item is counted once. So a package's counts are compared exactly for what
  is settled of it, and what is unsettled must make up the rest.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from tests.proofs.arrival.world import BLANK, CHANNELS, SOURCES, WHATS, Line, Sent

Identity = tuple[str, str, str, str, int, int]
"""Source, device, channel, what, slot, take."""
Row = tuple[str, int]
"""Package name and the item's number in it: (line - 1) x values a line + place in the line."""


@dataclass(frozen=True, slots=True)
class Said:
    """A reading as one package says it."""

    identity: Identity
    row: Row
    printed: str

    @property
    def value(self) -> Decimal:
        """The number."""
        return Decimal(self.printed)

    def agrees(self, other: Said) -> bool:
        """Equal within half of the last printed digit of the coarser one."""
        last_digit = max(value.as_tuple().exponent for value in (self.value, other.value))
        return abs(self.value - other.value) <= Decimal(5).scaleb(int(last_digit) - 1)


@dataclass(slots=True)
class Account:
    """What becomes of the items of one package; `unsettled` are those whose fate is not certain.

    `refused` gives the reason by item number; so does `for_a_time`, for items that were
    refused while they had no place, and may stay so in a package that was `withdrawn`
    meanwhile.
    """

    items: int = 0
    blank: int = 0
    refused: dict[int, str] = field(default_factory=dict)
    for_a_time: dict[int, str] = field(default_factory=dict)
    withdrawn: bool = False
    settled: Counter[str] = field(default_factory=Counter)
    unsettled: int = 0


@dataclass(slots=True)
class Expected:
    """The end of a round: what counts, what is stored, and the account of each package.

    `unsettled` has the readings of an identity of which one must count, `may_be_stored` their rows;
    `accepted` is the number of items accepted in all packages, where that is determined.
    """

    current: dict[Identity, Said] = field(default_factory=dict)
    unsettled: dict[Identity, list[Said]] = field(default_factory=dict)
    stored: set[Row] = field(default_factory=set)
    may_be_stored: set[Row] = field(default_factory=set)
    accounts: dict[str, Account] = field(default_factory=dict)
    accepted: int | None = None


def expect(
    in_order: Iterable[Sent],
    known: set[str],
    refused_for_a_time: Callable[[Identity], str | None],
    withdrawn: set[str],
    ever_withdrawn: set[str],
) -> Expected:
    """The end state of packages given in order of receipt.

    `known` are the devices registered at the end; `refused_for_a_time` says why readings
    of an identity were refused, while they were.
    """
    expected = Expected()
    chains: dict[Identity, list[Said]] = {}
    for sent in in_order:
        account = expected.accounts[sent.name] = Account(withdrawn=sent.name in withdrawn)
        for said in _read(sent, known, account):
            chains.setdefault(said.identity, []).append(said)
            if reason := refused_for_a_time(said.identity):
                account.for_a_time[said.row[1]] = reason
    for identity, chain in chains.items():
        if refused_for_a_time(identity) or any(said.row[0] in ever_withdrawn for said in chain):
            _leave_open(expected, chain, withdrawn)
        else:
            _settle(expected, chain)
    expected.accepted = None if ever_withdrawn else len(chains)
    return expected


def _read(sent: Sent, known: set[str], account: Account) -> list[Said]:
    """Readings of one file; what is no reading goes to the account."""
    found: list[Said] = []
    takes: Counter[tuple[str, str, str, int]] = Counter()
    for number, line in enumerate(sent.lines, start=2):  # below the line of column names
        first = (number - 1) * len(WHATS) + 1
        if not isinstance(line, Line):
            account.items += 1
            account.refused[first] = "undecodable"
            continue
        for row, (what, printed) in enumerate(zip(WHATS, line.values, strict=True), start=first):
            if printed == BLANK:
                account.blank += 1
                continue
            account.items += 1
            fault = _fault(line, printed, known)
            if fault:
                account.refused[row] = fault
                continue
            stream = (line.device, line.channel, what, line.slot)
            take = takes[stream] if SOURCES[sent.source] == "route" else 0
            takes[stream] += 1
            found.append(Said((sent.source, *stream, take), (sent.name, row), printed))
    return found


def _fault(line: Line, printed: str, known: set[str]) -> str | None:
    if not printed.replace(".", "").isdigit():
        return "bad-number"
    if line.device not in known:
        return "unknown-device"
    return None if line.channel in CHANNELS else "unknown-channel"


def _settle(expected: Expected, chain: Sequence[Said]) -> None:
    counting: Said | None = None
    for said in chain:
        if counting and said.agrees(counting):
            fate = "duplicate"
        else:
            fate = "revised" if counting else "accepted"
            counting = said
            expected.stored.add(said.row)
        expected.accounts[said.row[0]].settled[fate] += 1
    if counting:
        expected.current[counting.identity] = counting


def _leave_open(expected: Expected, chain: Sequence[Said], withdrawn: set[str]) -> None:
    for said in chain:
        expected.accounts[said.row[0]].unsettled += 1
        expected.may_be_stored.add(said.row)
    speaking = [said for said in chain if said.row[0] not in withdrawn]
    if speaking:
        expected.unsettled[speaking[0].identity] = speaking
