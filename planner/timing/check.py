"""Warnings about a valid protocol's timing: `timing_warnings(protocol) -> tuple[Fault, ...]`."""

from __future__ import annotations

from planner.faults import Fault
from planner.protocol.model import Protocol


def timing_warnings(protocol: Protocol) -> tuple[Fault, ...]:
    """A warning with its chance for each time point that is kept only if blocks end early."""
    return ()
