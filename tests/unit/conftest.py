"""Every demo job in turn, planned and drawn, for the tests that hold each of them against sums of their own."""

from __future__ import annotations

import pytest

from tests.demos import NAMES, demo_plan, demo_shapes
from tubing.drawing.pictures import Shapes
from tubing.plan import Plan


@pytest.fixture(params=NAMES)
def demo(request: pytest.FixtureRequest) -> str:
    """A demo job's name."""
    return str(request.param)


@pytest.fixture
def planned(demo: str) -> Plan:
    """Its plan."""
    return demo_plan(demo)


@pytest.fixture
def drawn(demo: str) -> Shapes:
    """What is drawn of it."""
    return demo_shapes(demo)
