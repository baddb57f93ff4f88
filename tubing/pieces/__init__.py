"""Blanks with their flares and bends, the clips that hold them, how sure they are, and what was really cut."""
