"""Searching a day in pieces: some visits are free, all others stay where they are."""
