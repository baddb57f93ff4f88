"""A whole job carried elsewhere: moved, turned, mirrored, with everything that is in its way."""

from __future__ import annotations

import warnings

from msgspec.structs import replace
from scipy.spatial.transform import Rotation

from tubing.geometry.vectors import Vector
from tubing.inputs.records import Box, Cylinder, Job, Obstacle, Sphere, Tail

STILL = Rotation.identity()


class Carrier:
    """A mirror of left and right where asked for, then a turn about the origin, then a shift."""

    def __init__(self, turn: Rotation = STILL, shift_mm: Vector = (0.0, 0.0, 0.0), mirror: bool = False) -> None:
        self.turn, self.shift_mm, self.mirror = turn, shift_mm, mirror

    def direction(self, v: Vector) -> Vector:
        """A direction carried."""
        x, y, z = self.turn.apply((-v[0], v[1], v[2]) if self.mirror else v).tolist()
        return (x, y, z)

    def point(self, p: Vector) -> Vector:
        """A point carried."""
        x, y, z = self.direction(p)
        return (x + self.shift_mm[0], y + self.shift_mm[1], z + self.shift_mm[2])

    def shape(self, shape: Box | Cylinder | Sphere) -> Box | Cylinder | Sphere:
        """A thing in the way carried; a box in the mirror is turned the other way about y and z."""
        if isinstance(shape, Sphere):
            return replace(shape, centre_mm=self.point(shape.centre_mm))
        if isinstance(shape, Cylinder):
            return replace(shape, start_mm=self.point(shape.start_mm), end_mm=self.point(shape.end_mm))
        x, y, z = shape.turned_rad
        own = Rotation.from_euler("xyz", (x, -y, -z) if self.mirror else (x, y, z))
        with warnings.catch_warnings():  # turned by a right angle, two of the three are told apart by choice
            warnings.filterwarnings("ignore", "Gimbal lock", UserWarning)
            a, b, c = (self.turn * own).as_euler("xyz").tolist()
        return replace(shape, centre_mm=self.point(shape.centre_mm), turned_rad=(a, b, c))

    def job(self, job: Job) -> Job:
        """The job carried, without its screen; a mirror changes right for left."""

        def optional(v: Vector | None) -> Vector | None:
            return None if v is None else self.direction(v)

        def corners(points: tuple[Vector, ...]) -> tuple[Vector, ...]:
            return tuple(self.point(p) for p in points)

        return replace(
            job,
            nose=replace(
                job.nose, position_mm=self.point(job.nose.position_mm), heading=self.direction(job.nose.heading)
            ),
            mountings={
                name: replace(
                    m,
                    hole_mm=self.point(m.hole_mm),
                    spindle=self.direction(m.spindle),
                    panel=optional(m.panel),
                    heading=optional(m.heading),
                    side=-m.side if self.mirror and m.side else m.side,
                )
                for name, m in job.mountings.items()
            },
            between=tuple(replace(b, corners_mm=corners(b.corners_mm)) for b in job.between),
            tail=Tail(optional(job.tail.toward), corners(job.tail.corners_mm)),
            in_the_way=tuple(Obstacle(o.name, self.shape(o.shape), o.clearance) for o in job.in_the_way),
            screen=None,
        )
