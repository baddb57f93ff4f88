"""The questions of `new`: positions in the order in which a fitter measures them, each answer checked as it is given.

Answer: what was typed, kept under its question's key.
Value:  the same as it stands in a job file.
Behind: how many questions are answered and left; going back takes one away and keeps the answer as the default.
"""

from tubing.ask.session import Talk, ask_job

__all__ = ["Talk", "ask_job"]
