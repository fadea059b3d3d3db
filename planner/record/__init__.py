"""A durable, append-only log of what happened: `Effort`, `Mark`, `Happened`."""
