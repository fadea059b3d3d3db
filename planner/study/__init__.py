"""A study folder to a frozen Study, or all its faults: `read_study(folder) -> Study`."""
