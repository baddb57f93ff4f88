"""What the order of work is computed from, and the operations that it consists of."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

from msgspec import Struct


class Does(StrEnum):
    """What an operation does, in the order preferred where nothing else decides."""

    STOCK = "stock"  # look the bars over
    DRILL = "drill"
    FIX = "fix"
    SAW = "saw"
    DEBURR = "deburr"
    MARK = "mark"
    FIRST_FLARE = "flare"
    BEND = "bend"
    LAY = "lay"
    TRIM = "trim"
    DRESS = "dress"  # deburr the end that was trimmed
    NUT = "nut"
    LAST_FLARE = "last flare"
    MEASURE = "measure"  # from rim to rim, with a tape
    RACK = "rack"
    GREASE = "grease"
    THREAD = "thread"
    SEAT = "seat"
    CLIP = "clip"
    PULL = "pull"
    STOP = "stop"
    PARK = "park"
    ARMS = "arms"
    TURN = "turn"
    WATER = "water"


class Fact(NamedTuple):
    """Something that is so once an operation has made it so."""

    what: str
    thing: str  # a piece, a box, the motor, the rack
    at: str = ""  # the port of a piece, where the fact is of one end


class Operation(Struct, frozen=True):
    """One thing to do, with what must be so before it and what is so after it."""

    does: Does
    thing: str
    at: str
    needs: frozenset[Fact]
    makes: frozenset[Fact]


class WorkEnd(Struct, frozen=True):
    """One end of a piece, as the bench meets it."""

    port: str  # "nose", a wheelbox's name or "end"
    flare: str  # "single", "double" or "plain"
    nut: bool  # a loose nut must be on the tube before this end is flared
    ready: bool  # the end is the bar's own flared end
    flared: bool  # the fitter has flared it already

    @property
    def to_flare(self) -> bool:
        """Whether a flare is still to be made here."""
        return self.flare != "plain" and not self.ready and not self.flared


class WorkPiece(Struct, frozen=True):
    """One piece, with what has been done to it."""

    id: str
    ends: tuple[WorkEnd, WorkEnd]
    bends: int
    bends_known: bool  # False: laid out with a wire, so that the bends' places are not known
    doubtful: bool  # its positions are not sure enough to cut it to length unseen
    sawn: bool
    bent: bool
    trimmed: bool

    @property
    def in_doubt(self) -> bool:
        """Whether it still has to be laid in place before its length is settled."""
        return self.doubtful and not self.trimmed


class Workshop(Struct, frozen=True):
    """All that the order of work is computed from."""

    pieces: tuple[WorkPiece, ...]  # in order from the motor
    boxes: tuple[str, ...]  # in order from the motor
    fixed: frozenset[str]  # boxes (and "motor") that the fitter has fixed already
    rack_cut: bool
    clips: bool  # whether any are fitted
