"""The checks of the shop's trial pieces: what was bent and flared to see what the tools really do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tubing.errors import JobError
from tubing.inputs.catalogue import Catalogue
from tubing.inputs.ranges import read_plausible
from tubing.inputs.records import TrialBend, TrialFlare
from tubing.inputs.table_rows import near
from tubing.units import Quantity, deg, mm


def trial_bends(trials: Sequence[TrialBend], catalogue: Catalogue, name: str) -> tuple[TrialBend, ...]:
    """Every trial names a tube and a former of the tables, and those of one pair can be told apart by their angle.

    Raises JobError.
    """
    pairs: dict[tuple[str, str], list[TrialBend]] = {}
    for count, trial in enumerate(trials, start=1):
        thing = f"{name}, trial_bend {count}"
        check_named(trial.tube, catalogue.tubes, f"{thing}, tube", "tube", "tubes.csv")
        check_named(trial.former, catalogue.formers, f"{thing}, former", "former", "formers.csv")
        if trial.got > trial.set:
            raise JobError(
                f"{thing}, got",
                f"{_angle(trial.got)} stayed of the {_angle(trial.set)} that were set",
                "a bend opens as it springs back, so got is at most set",
                "measure the bend again, or change the two round",
            )
        pairs.setdefault((trial.tube, trial.former), []).append(trial)
    for (tube, former), of_pair in pairs.items():
        if len(of_pair) > 1 and len({trial.got for trial in of_pair}) == 1:
            raise JobError(
                f"{name}, trial_bend of {tube!r} on {former!r}",
                f"all {len(of_pair)} stayed at {_angle(of_pair[0].got)}",
                "two trials must differ in angle, or play and springback cannot be told apart",
                "bend one at another angle, such as 30 and 90 deg",
            )
    return tuple(trials)


def trial_flares(trials: Sequence[TrialFlare], catalogue: Catalogue, name: str) -> tuple[TrialFlare, ...]:
    """Every trial names a tube of the tables, and its flare takes as much of it as a flare can.

    Raises JobError, InputError.
    """
    for count, trial in enumerate(trials, start=1):
        thing = f"{name}, trial_flare {count}"
        check_named(trial.tube, catalogue.tubes, f"{thing}, tube", "tube", "tubes.csv")
        if trial.after > trial.before:
            raise JobError(
                f"{thing}, after",
                f"{mm(trial.after):.6g} mm are left of {mm(trial.before):.6g} mm",
                "a flare takes tube, so after is at most before",
                "measure the piece again, from rim to the other end, or change the two round",
            )
        read_plausible(f"{float(trial.consumed_mm):g} mm", "tube a flare consumes", f"{thing}, before less after")
    return tuple(trials)


def _angle(angle: Quantity) -> str:
    return f"{deg(angle):.4g} deg"


def check_named(name: str, table: Mapping[str, object], thing: str, what: str, file: str) -> None:
    """Raise JobError where a table has no row of that name."""
    if name not in table:
        raise JobError(thing, f"there is no {what} {name!r}", f"it must be a row of {file}", near(name, table))
