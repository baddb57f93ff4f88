"""All pictures of one plan, and the shapes that they and the DXF files are drawn from, decided once."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from tubing.nesting import Nest
from tubing.plan import Plan
from tubing.sheet.drawing import Picture
from tubing.sheet.drawing_bars import bars_picture
from tubing.sheet.drawing_run import run_picture
from tubing.sheet.drawing_screen import screen_picture
from tubing.sheet.drawing_strips import full_size_strips, strip_picture
from tubing.sheet.drawing_templates import template_pages
from tubing.sheet.records import Show
from tubing.sheet.shapes import RunShape, run_shape
from tubing.sheet.shapes_bench import Strip, Template, strips, templates
from tubing.sheet.shapes_glass import ScreenShape, screen_shape


class Shapes(Struct, frozen=True):
    """All that is drawn of one plan."""

    run: RunShape
    strips: tuple[Strip, ...]
    templates: tuple[Template, ...]
    nest: Nest
    screen: ScreenShape | None  # None: the job has no screen


def shapes(plan: Plan) -> Shapes:
    """The shapes of a plan. Raises what the glass stage raises of a wrong screen."""
    pivots_mm, screen = {}, None
    if plan.job.screen is not None:
        from tubing.glass import at_sweep
        from tubing.sheet.glazing import glazed

        found = glazed(plan)
        pivots_mm = {wiper.name: wiper.pivot_mm for wiper in found.glass.wipers}
        screen = screen_shape(plan, found, at_sweep(found.glass, plan.job.sweep))
    return Shapes(run_shape(plan), strips(plan), templates(plan, pivots_mm), plan.nest, screen)


class Pictures(Struct, frozen=True):
    """Every picture of the page."""

    run: Picture
    strips: tuple[Picture, ...]  # to scale, one for each bent piece
    full_size_strips: tuple[Picture, ...]  # one for each page
    templates: tuple[Picture, ...]  # full size, one for each page
    bars: Picture
    screen: Picture | None

    def files(self) -> Iterator[tuple[str, str]]:
        """Names and texts of the pictures as files of their own; the full-size strips stay with the page."""
        for picture in (self.run, *self.strips, *self.templates, self.bars, *((self.screen,) if self.screen else ())):
            yield f"{picture.name}.svg", picture.file()


def pictures(of: Shapes, show: Show) -> Pictures:
    """Draw them all."""
    return Pictures(
        run=run_picture(of.run, show),
        strips=tuple(strip_picture(strip, number, show) for number, strip in enumerate(of.strips, 1)),
        full_size_strips=full_size_strips(of.strips, show),
        templates=template_pages(of.templates, show),
        bars=bars_picture(of.nest, show),
        screen=None if of.screen is None else screen_picture(of.screen, show),
    )
