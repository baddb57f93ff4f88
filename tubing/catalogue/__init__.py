"""The tables in ``data/`` as records, each row checked."""

from tubing.catalogue.records import Arm, Catalogue, FlareRow, Former, Motor, Tube, Wheelbox
from tubing.catalogue.rows import Row, Sign, measure, near, read_rows, read_text
from tubing.catalogue.tables import SURE, read_catalogue

__all__ = [
    "SURE",
    "Arm",
    "Catalogue",
    "FlareRow",
    "Former",
    "Motor",
    "Row",
    "Sign",
    "Tube",
    "Wheelbox",
    "measure",
    "near",
    "read_catalogue",
    "read_rows",
    "read_text",
]
