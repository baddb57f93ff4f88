"""Corners and a former to legs, bends, developed length and schedule; a tube between two ports.

Leg:     straight centre line between two corners, or between a port and a corner.
Corner:  where two legs' centre lines would meet; no metal is there, for the bend cuts the corner.
Bend:    the arc round the former from one leg to the next.
Straight: what of a leg the bends at its ends leave.
"""
