"""The independent check at the end of a plan: it trusts no stage and repeats none of their formulas.

It walks each tube's bend schedule as the bench would make it, arc by arc round each bend's centre, and must come out at
the tube's end port with the right heading; on that way it must keep clear of everything; it looks at each wheelbox's
rack line from its spindle; it counts ports.
The bars are added up by :func:`tubing.nesting.check_nest`.
"""

from tubing.check.bent_legs import WalkedLeg, walked_legs
from tubing.check.clear import check_apart, check_clear
from tubing.check.made import check_bends, check_piece, check_run, check_sawn, check_straights

__all__ = [
    "WalkedLeg",
    "check_apart",
    "check_bends",
    "check_clear",
    "check_piece",
    "check_run",
    "check_sawn",
    "check_straights",
    "walked_legs",
]
