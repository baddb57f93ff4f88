"""Pieces on bars at least cost, with proof: the only door to pulp and highspy."""
