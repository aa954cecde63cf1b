"""The people's work: cases by rule from changes of condition, persons' actions and maintenance.

`folding` is the rule itself, a pure function of one machine's inputs; `stepping` compares what it
says with the log of what was recorded, and gives the rows that are new. Nothing here reads or
writes a store.
"""

from warehouse.work.inputs import Action, Change, Machine, Rules, Work
from warehouse.work.stepping import new_events

__all__ = ["Action", "Change", "Machine", "Rules", "Work", "new_events"]
