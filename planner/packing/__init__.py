"""A study to a Schedule that is proven, found or impossible: `pack(study, plans, seconds) -> Schedule`."""
