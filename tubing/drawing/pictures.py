"""All pictures of one plan, and the shapes that they and the DXF files are drawn from, decided once."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from msgspec import Struct

from tubing.drawing.bars_picture import bars_picture
from tubing.drawing.bench_shapes import Strip, Template, strips, templates
from tubing.drawing.glass_shapes import ScreenShape, screen_shape
from tubing.drawing.run_picture import run_picture
from tubing.drawing.run_shape import RunShape, run_shape
from tubing.drawing.screen_picture import screen_picture
from tubing.drawing.strip_pictures import full_size_strips, strip_picture
from tubing.drawing.svg import Picture
from tubing.drawing.template_pages import template_pages
from tubing.nesting import Nest
from tubing.plan import Plan
from tubing.sheet.records import Show

if TYPE_CHECKING:
    from tubing.inputs.taped_points import Taped


class Shapes(Struct, frozen=True):
    """All that is drawn of one plan."""

    run: RunShape
    strips: tuple[Strip, ...]
    templates: tuple[Template, ...]
    nest: Nest
    screen: ScreenShape | None  # None: the job has no screen
    taped: Taped | None  # None: nothing was taped


def shapes(plan: Plan) -> Shapes:
    """The shapes of a plan. Raises what the glass stage raises of a wrong screen."""
    pivots_mm, screen = {}, None
    if plan.job.screen is not None:
        pivots_mm = {wiper.name: wiper.pivot_mm for wiper in plan.on_glass.glass.wipers}
        screen = screen_shape(plan)
    return Shapes(run_shape(plan), strips(plan), templates(plan, pivots_mm), plan.nest, screen, plan.job.taped)


class Pictures(Struct, frozen=True):
    """Every picture of the page."""

    run: Picture
    strips: tuple[Picture, ...]  # to scale, one for each bent piece
    full_size_strips: tuple[Picture, ...]  # one for each page
    templates: tuple[Picture, ...]  # full size, one for each page
    bars: Picture
    screen: Picture | None
    taped: Picture | None

    def files(self) -> Iterator[tuple[str, str]]:
        """Names and texts of the pictures as files of their own; the full-size strips stay with the page."""
        found = (self.run, *self.strips, *self.templates, self.bars, self.screen, self.taped)
        for picture in (each for each in found if each is not None):
            yield f"{picture.name}.svg", picture.file()


def pictures(of: Shapes, show: Show, called: str) -> Pictures:
    """Draw them all. ``called``: the job, layout and plan's mark, for parts that are cut out of the paper."""
    return Pictures(
        run=run_picture(of.run, show),
        strips=tuple(strip_picture(strip, number, show) for number, strip in enumerate(of.strips, 1)),
        full_size_strips=full_size_strips(of.strips, show, called),
        templates=template_pages(of.templates, show, called),
        bars=bars_picture(of.nest, show),
        screen=None if of.screen is None else screen_picture(of.screen, show),
        taped=_taped(of.taped, show),
    )


def _taped(taped: Taped | None, show: Show) -> Picture | None:
    if taped is None:
        return None
    from tubing.drawing.taped_picture import taped_picture  # only for such a job: it takes time to load

    return taped_picture(taped, show)
