"""A running day mended with the fewest changes; the door is `repack.py` above."""
