"""Plan and keep exercise test days."""
