"""Tables: every fault of a row at its place, CSV and XLSX alike."""

from datetime import date, datetime, time

import pytest
from openpyxl import Workbook

# (file, old words, new words, code, what stands at the place)
FAULTS = [
    ("staff.csv", "person,roles", "person;roles", "separator", "person;roles"),
    ("staff.csv", "person,roles", "person,role", "missing-column", "person,role"),
    ("staff.csv", "K2,operator", "K1,operator", "duplicate", "K1,operator"),
    ("staff.csv", "K2,operator", "k1,operator", "alike", "k1,operator"),
    ("staff.csv", "K2,operator", ",operator", "empty-cell", ",operator"),
    ("staff.csv", "K2,operator;cheek support", "K2,operator;operator", "value", "operator;operator"),
    ("staff.csv", "K2,operator;cheek support", "K2,operator/cheek support", "value", "operator/cheek"),
    ("staff.csv", "K2,operator;cheek support", "K2,operator,cheek support", "extra-cell", "cheek support"),
    ("shifts.csv", "K2,mon-fri", "K7,mon-fri", "value", "K7"),
    ("shifts.csv", "K2,mon-fri", "K2,monday", "value", "monday"),
    ("shifts.csv", "08:00,16:30", "08:00,08:00", "no-length", "08:00,08:00"),
    ("shifts.csv", "08:00,16:30", "16:30,08:00", "no-length", "16:30"),
    ("shifts.csv", "08:00,16:30", "8,16:30", "value", "8,16"),
    ("shifts.csv", "12:30-13:00;15:00-15:15", "12:30-13:00;12:45-13:15", "overlap", "12:30"),
    ("shifts.csv", "12:30-13:00;15:00-15:15", "12:30-13:00;16:45-17:15", "outside", "12:30"),
    ("shifts.csv", "12:30-13:00;15:00-15:15", "13:00-12:30", "value", "13:00"),
    ("shifts.csv", "12:30-13:00;15:00-15:15", "noon", "value", "noon"),
    ("shifts.csv", "K3,2027-03-05", "K3,tue,09:00,12:00,\nK3,2027-03-05", "overlap", "K3,tue"),
    ("participants.csv", "ROW-02", "ROW-01", "duplicate", "ROW-01"),
    ("participants.csv", "ROW-02", "row-01", "alike", "row-01"),
    ("participants.csv", "ROW-02", "=1+1", "value", "=1+1"),
    ("participants.csv", "ROW-02", "ROW 02", "value", "ROW 02"),
    ("participants.csv", "ROW-02", "R" * 41, "value", "RRRR"),
    ("availability.csv", "ROW-02,mon-fri,08:00", "ROW-03,mon-fri,08:00", "value", "ROW-03"),
    ("availability.csv", "16:00,\n", "16:00,practise\n", "value", "practise"),
    ("availability.csv", "08:00,16:00", "16:00,08:00", "no-length", "16:00"),
    ("outages.csv", "S2,", "S3,", "value", "S3"),
    ("outages.csv", "T10:00", "T08:00", "no-length", "2027"),
    ("outages.csv", "2027-03-02T08:00", "2 March", "value", "2 March"),
    ("absences.csv", "K3,", "K4,", "value", "K4"),
]  # fmt: skip


@pytest.mark.parametrize(("file", "old", "new", "code", "at"), FAULTS)
def test_a_fault_of_a_table(folder, file, old, new, code, at):
    faults = [one for one in folder.replace(file, old, new).faults() if one.place.file == file]
    found = [one for one in faults if one.code == code]
    assert found, [str(one) for one in faults]
    assert folder.where(found[0]).startswith(at), folder.where(found[0])


def test_the_nearest_name_is_offered(folder):
    folder.replace("availability.csv", "ROW-02,mon-fri,08:00", "ROW-O2,mon-fri,08:00")
    assert "Did you mean 'ROW-02'?" in folder.fault().message


def test_zero_staff(folder):
    """Its head alone is not enough: packing would only find that nothing has a place."""
    fault = folder.write("staff.csv", "person,roles\n").fault()
    assert (fault.code, fault.place.file, fault.place.line) == ("empty", "staff.csv", 1)
    assert "lead, operator" in fault.message


def test_zero_participants(folder):
    folder.write("participants.csv", "participant\n").write("availability.csv", "participant,days,from,to\n")
    fault = folder.fault()
    assert (fault.code, fault.place.file) == ("empty", "participants.csv")


def test_an_empty_table(folder):
    assert folder.write("participants.csv", "").faults()[0].code == "empty-file"


def test_an_unknown_column_is_a_warning(folder):
    folder.write("participants.csv", "participant,colour\nROW-01,red\nROW-02,blue\n")
    warnings = folder.study().warnings
    assert [(one.code, one.place.line) for one in warnings] == [("unknown-column", 1)]


def test_a_byte_order_mark_is_allowed(folder):
    (folder.path / "participants.csv").write_bytes(b"\xef\xbb\xbfparticipant\r\nROW-01\r\nROW-02\r\n")
    assert folder.study().participants == ("ROW-01", "ROW-02")


def test_a_table_of_more_than_50_mb_is_refused(folder):
    with open(folder.path / "participants.csv", "wb") as stream:
        stream.truncate(50_000_001)
    assert "too-big" in {one.code for one in folder.faults()}


def test_a_link_is_not_followed(folder):
    secret = folder.path.parent / "secret.csv"
    secret.write_text("person,roles\nSecret Person,operator\n", "utf-8")
    (folder.path / "staff.csv").unlink()
    (folder.path / "staff.csv").symlink_to(secret)
    faults = folder.faults()
    assert "link" in {one.code for one in faults}
    assert not any("Secret" in str(one) for one in faults)


def test_outages_and_absences_outside_the_days_are_warned_of(folder):
    folder.add("outages.csv", "S1,2028-03-02T08:00,2028-03-02T10:00")
    folder.add("absences.csv", "K1,2026-03-02T08:00,2026-03-02T10:00")
    warnings = folder.study().warnings
    assert {(one.code, one.place.file) for one in warnings} == {
        ("outside-days", "outages.csv"),
        ("outside-days", "absences.csv"),
    }


def test_somebody_without_a_shift_is_warned_of(folder):
    folder.add("staff.csv", "K4,operator")
    assert [one.code for one in folder.study().warnings] == ["no-shift"]


def test_a_role_that_nothing_asks_for_is_warned_of(folder):
    folder.add("staff.csv", "K4,oprator").add("shifts.csv", "K4,mon,09:00,12:00,")
    (warning,) = folder.study().warnings
    assert warning.code == "idle-role"
    assert "'operator'" in warning.hint


def test_roles_between_commas_are_told_how_to_be_written(folder):
    folder.add("staff.csv", '"K4","operator, lead"').add("shifts.csv", "K4,mon,09:00,12:00,")
    (warning,) = folder.study().warnings
    assert (warning.code, warning.hint) == ("idle-role", "Put ; between several roles.")


def test_a_role_that_stands_between_commas_is_found_there(folder):
    folder.write("staff.csv", 'person,roles\nK1,"lead, operator"\n')
    hints = {fault.hint for fault in folder.faults() if "the role 'lead'" in fault.message}
    assert any("'lead, operator' counts as one: put ; between several." in hint for hint in hints)


def test_an_outage_over_the_whole_day_is_no_fault(folder):
    folder.add("outages.csv", "S1,2027-03-01T00:00,2027-03-01T23:59")
    assert folder.study().rig("S1").out[0].length_s == 86_340


def test_outages_that_overlap_are_taken_as_they_are(folder):
    folder.add("outages.csv", "S2,2027-03-02T09:00,2027-03-02T11:00")
    assert len(folder.study().rig("S2").out) == 2


# -- fixed visits


@pytest.mark.parametrize(
    ("line", "code", "at"),
    [
        ("ROW-09,practice,2027-03-01,,,", "value", "ROW-09"),
        ("ROW-01,rowing-3,2027-03-01,,,", "value", "rowing-3"),
        ("ROW-01,practice,2027-13-01,,,", "value", "2027-13-01"),
        ("ROW-01,practice,2027-04-01,,,", "closed-day", "2027-04-01"),
        ("ROW-01,practice,2027-03-03,,,", "closed-day", "2027-03-03"),
        ("ROW-02,practice,2027-03-01,,,\nROW-02,practice,2027-03-02,,,", "contradiction", "ROW-02"),
        ("ROW-02,,2027-03-01,,,\nROW-02,practice,2027-03-02,,,", "contradiction", "ROW-02"),
        ("ROW-01,practice,,09:00,,", "value", "09:00"),
        ("ROW-01,practice,2027-03-01,2027-03-02T09:00,,", "value", "2027-03-02T09:00"),
        ("ROW-01,practice,,,S9,", "value", "S9"),
        ("ROW-01,practice,,,,K9", "value", "K9"),
        ("ROW-01,practice,,,,", "empty", "ROW-01"),
    ],
)
def test_a_fault_of_fixed_visits(folder, line, code, at):
    folder.add("study.yaml", "fixed: fixed.csv")
    fault = folder.write("fixed.csv", f"participant,visit,date,start,rig,person\n{line}\n").fault()
    assert fault.code == code
    assert folder.where(fault).startswith(at)


def spring_forward(folder, sunday):
    """The study goes on to the night in which clocks are put forward from 02:00 to 03:00."""
    folder.replace("study.yaml", "Pacific/Chatham", "Europe/Oslo")
    days = 'to: 2027-03-28, open: {mon-fri: "08:00-17:00", sun: "' + sunday + '"}'
    return folder.replace("study.yaml", 'to: 2027-03-05, open: {mon-fri: "08:00-17:00"}', days)


@pytest.mark.parametrize("line", ["2027-03-28,02:30", ",2027-03-28T02:30"])
def test_a_fixed_start_that_no_clock_shows(folder, line):
    spring_forward(folder, "01:00-06:00").add("study.yaml", "fixed: fixed.csv")
    head = "participant,visit,date,start,rig,person\n"
    fault = folder.write("fixed.csv", f"{head}ROW-01,practice,{line},,\n").fault()
    assert (fault.code, fault.place.file, fault.place.line) == ("no-such-time", "fixed.csv", 2)
    assert "2027-03-28 has no 02:30" in fault.message
    assert "show 03:30 then" in fault.message
    folder.replace("fixed.csv", "02:30", "03:30").study()


def test_opening_hours_that_no_clock_shows_are_a_warning(folder):
    """They stand for every Sunday: on one of them the laboratory opens and closes by another clock."""
    warnings = spring_forward(folder, "02:10-02:50").study().warnings
    told = [one.message for one in warnings if one.code == "no-such-time"]
    assert [("has no 02:10" in one, "has no 02:50" in one) for one in told] == [(True, False), (False, True)]
    assert {one.place.file for one in warnings if one.code == "no-such-time"} == {"study.yaml"}


# -- orders


@pytest.mark.parametrize(
    ("rows", "code"),
    [
        ("ROW-01,cold air;mild air\n", "missing-row"),
        ("ROW-01,cold air;mild air\nROW-02,cold air\n", "value"),
        ("ROW-01,cold air;mild air\nROW-02,cold air;cold air\n", "value"),
        ("ROW-01,cold air;mild air\nROW-02,cold air;warm air\n", "value"),
        ("ROW-01,cold air;mild air\nROW-02,mild air;cold air\nROW-02,mild air;cold air\n", "duplicate"),
        ("ROW-01,cold air;mild air\nROW-02,mild air;cold air\nROW-03,mild air;cold air\n", "value"),
    ],
)
def test_a_fault_of_a_table_of_orders(folder, rows, code):
    folder.replace("study.yaml", "order: balanced", "order: orders.csv")
    fault = folder.write("orders.csv", f"participant,sequence\n{rows}").fault()
    assert (fault.code, fault.place.file) == (code, "orders.csv")


def test_a_group_without_a_protocol_is_told_at_the_participants_line(folder):
    folder.replace(
        "study.yaml", "protocol: practice.yaml", "protocol: {training: practice.yaml, control: none}"
    )
    for group, code in (("", "no-group"), ("contrl", "unknown-name")):
        folder.write("participants.csv", f"participant,group\nROW-01,training\nROW-02,{group}\n")
        assert ("participants.csv", 3, code) in {
            (one.place.file, one.place.line, one.code) for one in folder.faults()
        }


def test_a_table_that_cannot_be_read_is_told_once_and_not_again_by_its_names(folder):
    folder.write("participants.csv", "participnt\nROW-01\n")
    assert {one.place.file for one in folder.faults()} == {"participants.csv"}


def test_groups(folder):
    folder.write("participants.csv", "participant,group\nROW-01,training\nROW-02,\n")
    folder.replace(
        "study.yaml", "protocol: practice.yaml", "protocol: {training: practice.yaml, control: none}"
    )
    assert {one.code for one in folder.faults()} == {"unknown-name", "no-group"}
    folder.write("participants.csv", "participant,group\nROW-01,training\nROW-02,control\n")
    folder.replace("study.yaml", "control: none", "kontrol: none")
    assert {one.code for one in folder.faults()} == {"unknown-name", "missing-key"}


# -- workbooks


def workbook(folder, file, rows):
    book = Workbook()
    for row in rows:
        book.active.append(row)
    book.save(folder.path / file)


def test_a_workbook_with_dates_and_times_as_cells(folder):
    expected = folder.study()
    workbook(
        folder,
        "shifts.xlsx",
        [
            ["person", "days", "from", "to", "breaks"],
            ["K1", "mon-fri", time(8), time(16, 30), "12:00-12:30"],
            [],
            ["K2", "mon-fri", "08:00", "17:00", "12:30-13:00;15:00-15:15"],
            ["K3", "mon-thu", time(8), time(17), "13:00-13:30"],
            ["K3", date(2027, 3, 5), time(9), time(17), "13:00-13:30"],
        ],
    )
    workbook(
        folder,
        "outages.xlsx",
        [
            ["rig", "from", "to"],
            ["S2", datetime.fromisoformat("2027-03-02T08:00"), datetime.fromisoformat("2027-03-02T10:00")],
        ],
    )
    folder.replace("study.yaml", "shifts.csv", "shifts.xlsx").replace(
        "study.yaml", "outages.csv", "outages.xlsx"
    )
    found = folder.study()
    assert found.people == expected.people
    assert found.rigs == expected.rigs
    assert found.places["shifts", "K3", "2027-03-05"].line == 6, "the row number that the sheet shows"


def test_a_fault_in_a_workbook_has_its_row_and_column(folder):
    workbook(
        folder,
        "staff.xlsx",
        [
            ["person", "roles"],
            ["K1", "operator;lead"],
            ["K 2", "operator;cheek support"],
            ["K3", "lead;cheek support"],
        ],
    )
    folder.replace("study.yaml", "staff.csv", "staff.xlsx")
    fault = next(one for one in folder.faults() if one.place.file == "staff.xlsx")
    assert (fault.place.line, fault.place.column) == (3, 1)


def test_a_formula_in_a_workbook_is_refused(folder):
    workbook(folder, "participants.xlsx", [["participant"], ["ROW-01"], ['="ROW-"&"02"']])
    folder.replace("study.yaml", "participants.csv", "participants.xlsx")
    assert "formula" in {one.code for one in folder.faults()}


def test_a_number_in_a_workbook_is_read_as_written(folder):
    workbook(folder, "participants.xlsx", [["participant"], ["ROW-01"], ["ROW-02"], [3]])
    folder.replace("study.yaml", "participants.csv", "participants.xlsx")
    assert folder.study().participants == ("ROW-01", "ROW-02", "3")


@pytest.mark.parametrize("content", [b"", b"no workbook", b"PK\x03\x04"])
def test_a_file_that_is_no_workbook(folder, content):
    (folder.path / "participants.xlsx").write_bytes(content)
    folder.replace("study.yaml", "participants.csv", "participants.xlsx")
    assert "unreadable" in {one.code for one in folder.faults()}


def test_an_archive_that_is_no_workbook(folder):
    from zipfile import ZipFile

    with ZipFile(folder.path / "participants.xlsx", "w") as archive:
        archive.writestr("hello.txt", "hello")
    folder.replace("study.yaml", "participants.csv", "participants.xlsx")
    assert "unreadable" in {one.code for one in folder.faults()}


def test_a_workbook_that_unpacks_to_too_much_is_not_opened(folder):
    from zipfile import ZIP_DEFLATED, ZipFile

    with (
        ZipFile(folder.path / "participants.xlsx", "w", ZIP_DEFLATED) as archive,
        archive.open("big", "w") as big,
    ):
        for _ in range(1010):
            big.write(bytes(1_000_000))
    folder.replace("study.yaml", "participants.csv", "participants.xlsx")
    assert "too-big" in {one.code for one in folder.faults()}
