"""A protocol file to a frozen Protocol, or all its faults: `read_protocol(path) -> Protocol`."""
