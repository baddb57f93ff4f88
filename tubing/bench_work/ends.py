"""Which end of a piece is flared first, which last, and which may be left over length."""

from __future__ import annotations

from tubing.bench_work.records import WorkPiece


def flared_last(piece: WorkPiece) -> int | None:
    """The end (0 or 1) whose flare waits until the piece is bent; None where no flare has to wait.

    An end with a loose nut always waits: the nut goes on from that end, over a tube that is bent already. Of two
    other flares the one at ``to`` waits. The only flare of a doubtful piece waits where no plain end can be trimmed.
    """
    to_flare = sorted((k for k in (0, 1) if piece.ends[k].to_flare), key=lambda k: piece.ends[k].nut)
    if len(to_flare) == 2:
        return to_flare[1]
    waits = [k for k in to_flare if piece.ends[k].nut or (piece.in_doubt and _plain_end(piece) is None)]
    return waits[0] if waits else None


def flared_first(piece: WorkPiece) -> int | None:
    """The end (0 or 1) whose flare is made while the blank is straight; None where there is none."""
    return next((k for k in (0, 1) if piece.ends[k].to_flare and k != flared_last(piece)), None)


def over_length_end(piece: WorkPiece) -> int | None:
    """The end (0 or 1) that is left over length and trimmed in place; None where neither can wait.

    It is a plain end where there is one, else the end flared last. An end that is flared, or comes flared from its
    bar, has its length already. Only a piece in doubt is left over length.

    >>> from tubing.bench_work.records import WorkEnd
    >>> box = WorkEnd("near", "single", nut=False, ready=False, flared=False)
    >>> nose = WorkEnd("nose", "double", nut=True, ready=False, flared=False)
    >>> over_length_end(WorkPiece("nose-near", (nose, box), 1, True, True, False, False, False))
    0
    """
    if not piece.in_doubt:
        return None
    plain = _plain_end(piece)
    return flared_last(piece) if plain is None else plain


def _plain_end(piece: WorkPiece) -> int | None:
    return next((k for k in (1, 0) if piece.ends[k].flare == "plain"), None)
