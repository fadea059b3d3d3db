"""Visits to days and slots: templates of a day, who takes which slot, and what is mended between days."""
