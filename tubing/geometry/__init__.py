"""Arcs, tangents, rotations, distances on floats in mm and radians: the only door to numpy outside nesting."""
