"""Why not every visit has a place: the demands behind it, what would mend it; door: `reasons.py` above."""
