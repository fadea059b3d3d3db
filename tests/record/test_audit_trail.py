"""What an audit trail is asked for, point by point, and the test that shows each.

Sources: the ALCOA+ principles (read); ICH E6(R3), final, sections 4.2.2 and 4.2.4 (read, page 47).
This is a list of what was tried, no claim that a standard or a law is met: check the originals.

    python tests/record/test_audit_trail.py      prints the table as Markdown
"""

from __future__ import annotations

import ast
from pathlib import Path
from typing import NamedTuple

import pytest

HERE = Path(__file__).parent


class Demand(NamedTuple):
    """One demand, what the record does about it, and tests as file::function."""

    source: str
    demand: str
    answer: str
    tests: tuple[str, ...]


TABLE = (
    Demand("ALCOA+ attributable", "Who recorded it, and how that person is known",
           "Each event holds a staff code, how it is known (signed in, picked, file) and the station",
           ("test_export::test_every_event_is_there_with_everything",
            "test_access::test_a_refusal_is_recorded_with_who")),
    Demand("ALCOA+ legible", "Can be read, and understood, without the tool",
           "Plain CSV with a data dictionary that explains every column",
           ("test_export::test_the_dictionary_explains_every_column_of_every_file",)),
    Demand("ALCOA+ contemporaneous", "Recorded when it happened, by a clock that can be trusted",
           "Device and server clock on each event; differences and set-back clocks are said and recorded",
           ("test_live::test_a_device_clock_that_is_wrong_is_said",
            "test_troubles::test_a_clock_set_back_is_recorded_as_such_and_order_stays")),
    Demand("ALCOA+ original", "The first entry is kept as it was written",
           "Nothing is overwritten: a correction is an event of its own beside the first entry",
           ("test_store::test_nothing_is_changed_or_deleted",
            "test_corrections::test_the_first_entry_stays_beside_its_correction")),
    Demand("ALCOA+ accurate", "Decimals as written, no conversion, slips asked about",
           "Readings are exact decimals in the protocol's unit; other content under the same key is refused",
           ("test_efforts_file::test_whatever_is_written_reads_back_to_the_same",
            "test_efforts_file::test_a_bad_row_is_refused_in_words",
            "test_plausible::test_a_likely_slip_is_asked_about")),
    Demand("ALCOA+ complete", "Nothing is missing, refused rows and repeats included",
           "Refused rows are kept with their reason; missing events are found by the chain of hashes",
           ("test_store::test_other_content_under_the_same_key_is_refused_and_kept",
            "test_chain::test_missing_events_are_found")),
    Demand("ALCOA+ consistent", "One order, one version of each line",
           "Events are numbered without a gap by one writer; sent twice, kept once",
           ("test_troubles::test_eight_threads_at_once",
            "test_live::test_a_double_tap_and_a_second_tab_record_once")),
    Demand("ALCOA+ enduring", "Survives a crash, a full disk, a lost machine",
           "Acknowledged only when on the disk; backups while in use",
           ("test_kill::test_nothing_acknowledged_is_lost_or_doubled",
            "test_troubles::test_a_full_disk_is_said_and_what_was_acknowledged_stays",
            "test_backup::test_backups_while_others_record_are_whole")),
    Demand("ALCOA+ available", "Can be had for review whenever it is wanted",
           "Export and check by one command each, while others record",
           ("test_export::test_the_chain_can_be_counted_anew_from_the_export_alone",)),
    Demand("ICH E6(R3) 4.2.2", "The initial entry and every later change or deletion are documented",
           "Entries, corrections and undoings are events; deletion is refused by the database",
           ("test_corrections::test_the_first_entry_stays_beside_its_correction",
            "test_corrections::test_an_undoing_is_an_event_too",
            "test_store::test_nothing_is_replaced_on_sqlite")),
    Demand("ICH E6(R3) 4.2.2", "With the reason, where appropriate",
           "A correction, an undoing or a removal without a reason is refused",
           ("test_live::test_undo_is_a_correction_and_the_effort_can_be_done_again",
            "test_removal::test_it_takes_a_reason")),
    Demand("ICH E6(R3) 4.2.2", "The audit trail is not disabled",
           "The app's account owns no table; triggers bind even the owner",
           ("test_store::test_the_app_owns_nothing_and_may_only_add",
            "test_store::test_even_the_owner_is_refused_by_the_triggers")),
    Demand("ICH E6(R3) 4.2.2", "It is not modified, except rarely and logged",
           "Changes by another tool are found; the one exception, removal on withdrawal, is an event itself",
           ("test_chain::test_a_changed_column_is_found", "test_chain::test_changed_content_is_found",
            "test_removal::test_the_removal_is_an_event_with_who_and_why")),
    Demand("ICH E6(R3) 4.2.2", "Date and time are automatic and unambiguous",
           "The server's clock in UTC; local times keep their offset where clocks show them twice",
           ("test_corrections::test_the_servers_clock_is_utc_and_set_by_no_sender",
            "test_efforts_file::test_the_hour_that_clocks_show_twice_is_kept_apart")),
    Demand("ICH E6(R3) 4.2.4", "Corrections are attributed to the person who makes them",
           "A correction carries the code of who corrected, the first entry that of who entered",
           ("test_corrections::test_the_first_entry_stays_beside_its_correction",)),
    Demand("ICH E6(R3) 4.2.4", "Corrections are justified and supported by source records",
           "The reason is kept with it; the line it is about is named by its number",
           ("test_corrections::test_the_first_entry_stays_beside_its_correction",)),
    Demand("ICH E6(R3) 4.2.4", "Corrections are made in time",
           "Each correction has its own server clock, so that its delay can be read off",
           ("test_corrections::test_the_delay_of_a_correction_can_be_read_off",)),
)  # fmt: skip


def functions(file: str) -> set[str]:
    """The test functions of a test module of this folder."""
    tree = ast.parse((HERE / f"{file}.py").read_text("utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}


@pytest.mark.parametrize("demand", TABLE, ids=lambda demand: f"{demand.source}: {demand.demand}")
def test_every_demand_names_tests_that_exist(demand: Demand):
    assert demand.tests
    for name in demand.tests:
        file, function = name.split("::")
        assert function in functions(file), name


def test_no_principle_is_left_out():
    """ALCOA+ has nine (read): attributable … available; of ICH E6(R3) both sections."""
    nine = "attributable legible contemporaneous original accurate complete consistent enduring available"
    named = [one.source.removeprefix("ALCOA+ ") for one in TABLE if one.source.startswith("ALCOA+")]
    assert named == nine.split()
    assert {one.source for one in TABLE if one.source.startswith("ICH")} == {
        "ICH E6(R3) 4.2.2",
        "ICH E6(R3) 4.2.4",
    }


def markdown() -> str:
    """The table for people."""
    head = "| demand | source | what the record does | shown by |\n| --- | --- | --- | --- |\n"
    rows = (
        f"| {one.demand} | {one.source} | {one.answer} | {', '.join(f'`{name}`' for name in one.tests)} |"
        for one in TABLE
    )
    return head + "\n".join(rows)


if __name__ == "__main__":
    print(markdown())
