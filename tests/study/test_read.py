"""A study folder read whole: what a sound one gives, and every fault of an unsound one at its place."""

from datetime import date, datetime, time
from decimal import Decimal

import pytest

from planner.clock import ClockRange, DaySpan, seconds_between
from planner.study.read import read_study

MON, TUE, WED, THU, FRI = (date(2027, 3, day) for day in range(1, 6))


def test_the_small_study(folder):
    study = folder.study()
    assert study.name == "small"
    assert study.plan_on == Decimal("0.8")
    assert study.participants == ("ROW-01", "ROW-02")
    assert list(study.open) == [MON, TUE, THU, FRI], "Wednesday is closed"
    assert study.same_time_of_day_s == 7200
    assert study.before_first_use["spirometer"].takes_s == 600
    assert [rig.id for rig in study.rigs] == ["S1", "S2", "M1", "E1"]
    assert study.warnings == ()


def test_the_visits_that_are_asked_for(folder):
    study = folder.study()
    first, second, third = study.asked["ROW-01"]
    assert (first.kind, first.number, first.condition, first.gap) == ("practice", None, None, None)
    assert (second.file_id, third.file_id) == ("rowing-1", "rowing-2")
    assert {second.condition, third.condition} == {"mild air", "cold air"}
    assert second.gap == DaySpan(1)
    assert third.gap == DaySpan(1, 3)
    assert third.start == ClockRange(time(8), time(15))


def test_a_dated_line_replaces_that_days_weekday_lines(folder):
    study = folder.study()
    k3 = study.person("K3")
    assert k3.shifts[THU][0].start.time() == time(8)
    assert k3.shifts[FRI][0].start.time() == time(9)
    assert len(k3.shifts[FRI]) == 1
    visit = study.asked["ROW-02"][0]
    assert [one.start.time() for one in study.may_come(visit, MON)] == [time(8)]
    assert [(one.start.time(), one.end.time()) for one in study.may_come(visit, TUE)] == [(time(9), time(13))]


def test_breaks_and_absences_are_cut_out_of_shifts(folder):
    works = folder.study().person("K3").works[THU]
    assert [(one.start.time(), one.end.time()) for one in works] == [
        (time(8), time(13)),
        (time(13, 30), time(14)),
    ]


def test_two_touching_shifts_are_one_stretch_of_work(folder):
    folder.replace(
        "shifts.csv", "K1,mon-fri,08:00,16:30,", "K1,mon-fri,08:00,10:00,\nK1,mon-fri,10:00,16:30,"
    )
    works = folder.study().person("K1").works[MON]
    assert [(one.start.time(), one.end.time()) for one in works] == [
        (time(8), time(12)),
        (time(12, 30), time(16, 30)),
    ]


def test_no_line_of_availability_means_all_opening_hours(folder):
    study = folder.study()
    assert study.may_come(study.asked["ROW-01"][0], MON) == study.open[MON]


def test_a_line_for_one_visit_leaves_the_others_free(folder):
    folder.add("availability.csv", "ROW-01,mon tue,09:00,10:00,practice")
    study = folder.study()
    practice, rowing = study.asked["ROW-01"][:2]
    assert [one.end.time() for one in study.may_come(practice, MON)] == [time(10)]
    assert study.may_come(practice, THU) == ()
    assert study.may_come(rowing, THU) == study.open[THU]


def test_a_participant_whose_lines_lie_elsewhere_cannot_come(folder):
    folder.add("availability.csv", "ROW-01,2030-01-01,09:00,10:00,")
    study = folder.study()
    assert study.may_come(study.asked["ROW-01"][0], MON) == ()


def test_a_rig_in_two_classes_is_one_rig(folder):
    folder.replace("study.yaml", "rowing ergometer: [E1]", "rowing ergometer: [E1]\n  bench: [E1, B2]")
    study = folder.study()
    assert study.rig("E1").classes == ("rowing ergometer", "bench")
    assert len(study.rigs) == 5


def test_days_between_visits_where_a_visit_names_nothing_else(folder):
    folder.replace("study.yaml", "    since_last: {at_least: 1 d}\n", "")
    folder.replace("study.yaml", "    between_conditions: {at_least: 1 d, at_most: 3 d}\n", "")
    assert [visit.gap for visit in folder.study().asked["ROW-01"]] == [None, DaySpan(0), DaySpan(0)]
    folder.add("study.yaml", "between_visits: {at_least: 1 d, at_most: 2 d}")
    assert [visit.gap for visit in folder.study().asked["ROW-01"]] == [None, DaySpan(1, 2), DaySpan(1, 2)]


def test_the_fingerprint_is_that_of_all_files(folder):
    before = folder.study().fingerprint
    assert len(before) == 64
    assert folder.study().fingerprint == before
    for file in ("rowing.yaml", "staff.csv", "outages.csv", "study.yaml"):
        text = (folder.path / file).read_text("utf-8")
        folder.write(file, text + "\n")
        assert folder.study().fingerprint != before, file
        folder.write(file, text)
    folder.write("notes.txt", "no file of the study")
    assert folder.study().fingerprint == before


def test_protocols_by_condition_and_by_group(folder):
    folder.replace(
        "study.yaml", "protocol: rowing.yaml", "protocol: {mild air: rowing.yaml, cold air: practice.yaml}"
    )
    by_condition = {one.condition: one.protocol for one in folder.study().asked["ROW-01"][1:]}
    assert by_condition == {"mild air": "rowing.yaml", "cold air": "practice.yaml"}


def test_a_group_without_a_visit(folder):
    folder.write("participants.csv", "participant,group\nROW-01,training\nROW-02,control\n")
    folder.replace(
        "study.yaml", "protocol: practice.yaml", "protocol: {training: practice.yaml, control: none}"
    )
    study = folder.study()
    assert [one.file_id for one in study.asked["ROW-01"]] == ["practice", "rowing-1", "rowing-2"]
    assert [one.file_id for one in study.asked["ROW-02"]] == ["rowing-1", "rowing-2"]
    assert study.asked["ROW-02"][0].gap is None, "nothing comes before it"


def test_an_order_from_a_table(folder):
    folder.replace("study.yaml", "order: balanced", "order: orders.csv")
    folder.write("orders.csv", "participant,sequence\nROW-01,cold air; mild air\nROW-02,mild air;cold air\n")
    study = folder.study()
    assert [one.condition for one in study.asked["ROW-01"][1:]] == ["cold air", "mild air"]


def test_fixed_visits(folder):
    folder.add("study.yaml", "fixed: fixed.csv")
    folder.write(
        "fixed.csv",
        "participant,visit,date,start,rig,person\n"
        "ROW-01,rowing-2,2027-03-04,10:00,,\nROW-01,practice,,2027-03-01T09:00,,\nROW-02,,,,S2,K2\n",
    )
    first, second, third = folder.study().wishes
    assert (first.visit, first.date, first.start.time()) == ("rowing-2", THU, time(10))
    assert second.start.date() == MON
    assert (third.visit, third.rig, third.person) == (None, "S2", "K2")
    assert third.place.line == 4


def test_a_day_on_which_the_clocks_change(folder):
    """Chatham time ends its summer on 4 April 2027 at 03:45 (IANA time zone database)."""
    folder.replace("study.yaml", "from: 2027-03-01, to: 2027-03-05", "from: 2027-04-04, to: 2027-04-05")
    folder.replace("study.yaml", 'mon-fri: "08:00-17:00"', 'sun mon: "00:00-06:00"')
    folder.write("shifts.csv", "person,days,from,to,breaks\nK1,sun,00:00,06:00,04:00-05:00\n")
    folder.write("outages.csv", "rig,from,to\n").write("absences.csv", "person,from,to\n")
    folder.write("availability.csv", "participant,days,from,to\n")
    study = folder.study()
    sunday, monday = date(2027, 4, 4), date(2027, 4, 5)
    assert seconds_between(*study.open[sunday][0]) == 7 * 3600
    assert seconds_between(*study.open[monday][0]) == 6 * 3600
    assert [seconds_between(*one) // 3600 for one in study.person("K1").works[sunday]] == [5, 1]


# -- faults of study.yaml: (old words, new words, code, what stands at the place)
YAML_FAULTS = [
    ("format: 1", "format: 2", "value", "2"),
    ("name: small", "name: a study", "value", "a study"),
    ("name: small", "name: con", "value", "con"),
    ("time_zone: Pacific/Chatham", "time_zone: Mars/Olympus", "value", "Mars/Olympus"),
    ("plan_on: 80 %", "plan_on: 80", "value", "80"),
    ("plan_on: 80 %", "plan_on: 0 %", "value", "0 %"),
    ("plan_on: 80 %", "plan_on: 101 %", "value", "101 %"),
    ("seed: 7", "seed: seven", "value", "seven"),
    ("seed: 7", "seed: -7", "value", "-7"),
    ("seed: 7", "seeds: 7", "unknown-key", "seeds"),
    ("seed: 7", "seed:", "empty-value", "seed:"),
    ("same_time_of_day: 2 h", "same_time_of_day: 2:00", "value", "2:00"),
    ("same_time_of_day: 2 h", "same_time_of_day: 120", "value", "120"),
    ("at_most_visits_a_day: 3", "at_most_visits_a_day: 0", "value", "0"),
    ("at_most_visits_a_day: 3", "at_most_visits_a_day: 1.5", "value", "1.5"),
    ("at_most_waiting: 30 min", "at_most_waiting: [30 min]", "value", "[30 min]"),
    ("within_visit: [lead]", "within_visit: [leed]", "unknown-name", "leed"),
    ("across_visits: [spirometer]", "across_visits: [spirometre]", "unknown-name", "spirometre"),
    ("within_visit: [lead]", "within: [lead]", "unknown-key", "within:"),
    ("{spirometer: {takes", "{spirometers: {takes", "unknown-name", "spirometers"),
    ("{takes: 10 min, staff: [operator]}", "{staff: [operator]}", "missing-key", "spirometer"),
    ("takes: 10 min, staff: [operator]", "takes: 10 min, staff: [operators]", "unknown-name", "staff"),
    ("takes: 10 min", "takes: 0 s", "value", "0 s"),
    ("to: 2027-03-05", "to: 2027-02-05", "value", "{from"),
    ("to: 2027-03-05", "to: 2027-02-30", "value", "2027-02-30"),
    ("to: 2027-03-05", "to: 5 March", "value", "5 March"),
    ('mon-fri: "08:00-17:00"', 'mon-fri: "17:00-08:00"', "value", '"17:00'),
    ('mon-fri: "08:00-17:00"', 'mon-fri: "8:00-17:00"', "value", '"8:00'),
    ('mon-fri: "08:00-17:00"', 'fri-mon: "08:00-17:00"', "value", "fri-mon"),
    ('mon-fri: "08:00-17:00"', 'mon-fri: ["08:00-12:00", "11:00-17:00"]', "overlap", "open"),
    ('mon-fri: "08:00-17:00"', 'sat sun: "08:00-17:00"', "never-open", "days"),
    ("closed: [2027-03-03]", "closed: [soon]", "value", "soon"),
    ("rowing ergometer: [E1]", "rowing ergometer: []", "empty", "rowing ergometer"),
    ("spirometer: [S1, S2]", "spirometer: [S1, S1]", "duplicate", "S1]"),
    ("spirometer: [S1, S2]", "spirometer: [S1, S 2]", "value", "S 2"),
    ("mouth-pressure meter: [M1]", "mouth-pressure meter: [s1]", "alike", "rigs"),
    ("mouth-pressure meter: [M1]", "mouth/pressure meter: [M1]", "value", "[M1]"),
    ("staff: staff.csv", "staff: staf.csv", "no-file", "staf.csv"),
    ("staff: staff.csv", "staff: ../../staff.csv", "outside", "../../staff.csv"),
    ("staff: staff.csv", "staff: /etc/passwd", "outside", "/etc/passwd"),
    ("protocol: rowing.yaml", "protocol: rowin.yaml", "no-file", "rowin.yaml"),
    ("conditions: [mild air, cold air]", "conditions: [mild air, Mild air]", "duplicate", "Mild air"),
    ("conditions: [mild air, cold air]", "conditions: [mild air, cold; air]", "value", "cold; air"),
    ("order: balanced", "order: random", "unknown-name", "random"),
    ("order: balanced", "order: orders.csv", "no-file", "orders.csv"),
    ("since_last: {at_least: 1 d}", "since_last: {at_least: 36 h}", "value", "36 h"),
    ("since_last: {at_least: 1 d}", "since_last: 1 d", "kind", "1 d"),
    ("at_least: 1 d, at_most: 3 d", "at_least: 4 d, at_most: 3 d", "value", "{at_least"),
    ('start: "08:00-15:00"', 'start: "08:00"', "value", '"08:00"'),
    ("blind: true", "blind: yes", "value", "yes"),
    ("id: practice", "id: rowing", "duplicate", "rowing"),
    ("id: practice", "id: Rowing", "alike", "rowing"),
    ("id: practice, protocol", "id: practice, blind: true, protocol", "no-conditions", "blind"),
    ("protocol: practice.yaml", "protocol: {training: practice.yaml}", "unknown-name", "training"),
    ("protocol: rowing.yaml", "protocol: {mild air: rowing.yaml}", "missing-key", "protocol"),
    ("protocol: rowing.yaml", "protocol: {mild air: rowing.yaml, cold air: none}", "none", "none"),
    ("l: rowing.yaml", "l: {mild air: rowing.yaml, cold: rowing.yaml}", "unknown-name", "cold:"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "code", "at"), YAML_FAULTS)
def test_a_fault_of_study_yaml(folder, old, new, code, at):
    faults = folder.replace("study.yaml", old, new).faults()
    found = [one for one in faults if one.code == code]
    assert found, [str(one) for one in faults]
    assert found[0].place.file == "study.yaml"
    assert folder.where(found[0]).startswith(at), folder.where(found[0])


@pytest.mark.parametrize("key", ["format", "name", "time_zone", "staff", "shifts", "participants"])
def test_a_missing_key(folder, key):
    text = (folder.path / "study.yaml").read_text("utf-8")
    kept = [line for line in text.splitlines() if not line.startswith(f"{key}:")]
    assert len(kept) == len(text.splitlines()) - 1
    faults = folder.write("study.yaml", "\n".join(kept)).faults()
    assert f"the key {key!r} is missing" in [one.message for one in faults]


def test_the_nearest_valid_name(folder):
    assert "'seed'" in folder.replace("study.yaml", "seed: 7", "sed: 7").fault().hint


def test_an_empty_study(folder):
    assert folder.write("study.yaml", "").fault().code == "empty-file"
    assert folder.write("study.yaml", "[]\n").fault().code == "kind"
    faults = folder.write("study.yaml", "format: 1\n").faults()
    assert {one.code for one in faults} == {"missing-key"}
    assert len(faults) == 8


def test_no_study_at_all(folder):
    (folder.path / "study.yaml").unlink()
    assert folder.fault().code == "no-file"


def test_no_rigs(folder):
    folder.replace(
        "study.yaml",
        "rigs:\n  spirometer: [S1, S2]\n  mouth-pressure meter: [M1]\n  rowing ergometer: [E1]",
        "rigs: {}",
    )
    assert "empty" in {one.code for one in folder.faults()}


def test_faults_of_all_files_at_once(folder):
    folder.replace("study.yaml", "seed: 7", "sed: 7").replace("rowing.yaml", "takes: 12 min", "takes: 12")
    folder.replace("staff.csv", "K2,operator", "K 2,operator").replace("absences.csv", "K3", "K9")
    folder.replace("outages.csv", "T10:00", "T07:00").replace(
        "availability.csv", "ROW-02,mon-fri", "ROW-03,mon-fri"
    )
    found = {(one.place.file, one.code) for one in folder.faults()}
    assert found >= {
        ("study.yaml", "unknown-key"),
        ("staff.csv", "value"),
        ("absences.csv", "value"),
        ("outages.csv", "no-length"),
        ("availability.csv", "value"),
    }
    assert "rowing.yaml" in {file for file, _ in found}


def test_a_protocol_one_folder_up_is_named_as_written(folder):
    shared = folder.path.parent / "protocols"
    shared.mkdir()
    (folder.path / "practice.yaml").rename(shared / "practice.yaml")
    folder.replace("study.yaml", "protocol: practice.yaml", "protocol: ../protocols/practice.yaml")
    assert "../protocols/practice.yaml" in folder.study().protocols
    text = (shared / "practice.yaml").read_text("utf-8")
    (shared / "practice.yaml").write_text(text.replace("takes: 5 min", "takes: 5"), "utf-8")
    assert folder.fault().place.file == "../protocols/practice.yaml"


def test_a_protocol_with_faults_is_told_of_once(folder):
    folder.replace("study.yaml", "protocol: practice.yaml", "protocol: rowing.yaml")
    assert len(folder.replace("rowing.yaml", "takes: 12 min", "takes: 12").faults()) == 1


def test_a_class_or_role_that_the_study_lacks(folder):
    folder.replace("rowing.yaml", "rig: rowing ergometer", "rig: rowing ergometre")
    fault = folder.fault()
    assert (fault.code, fault.place.file) == ("unknown-name", "rowing.yaml")
    assert "'rowing ergometer'" in fault.hint
    folder.replace("rowing.yaml", "rig: rowing ergometre", "rig: rowing ergometer")
    folder.replace("rowing.yaml", "watch: {staff: [lead]", "watch: {staff: [leader]")
    assert "'lead'" in folder.fault().hint


def test_the_places_that_reasons_lead_back_to(folder):
    study = folder.study()
    assert study.places["at_most_waiting",].line == 19
    assert (study.places["participants", "ROW-02"].file, study.places["participants", "ROW-02"].line) == (
        "participants.csv",
        3,
    )
    assert study.places["shifts", "K3", "2027-03-05"].line == 5
    assert study.places["outages", "S2", 0].file == "outages.csv"
    assert study.places["absences", "K3", 0].line == 2
    assert study.places["availability", "ROW-02"].line == 2


def test_what_is_there_on_site(folder):
    folder.add("study.yaml", "on_site:\n  emergency number:\n  oxygen: in the cupboard")
    assert folder.study().on_site == {"oxygen": "in the cupboard"}
    folder.replace("study.yaml", "  oxygen:", "  oxigen:")
    assert folder.fault().code == "unknown-key"


def test_instants_are_in_the_studys_zone(folder):
    start = folder.study().open[MON][0].start
    assert start.utcoffset() == datetime.fromisoformat("2027-03-01T08:00+13:45").utcoffset()


def test_who_may_come_is_what_each_line_says_looked_through_one_by_one(demo):
    study = read_study(demo)
    for visit in (visit for visits in study.asked.values() for visit in visits):
        written = study.available.get(visit.participant, ())
        lines = [line for line, kind in written if kind in (None, visit.kind)]
        for day, hours in study.open.items():
            cut = [
                (max(line.start, hour.start), min(line.end, hour.end))
                for hour in hours
                for line in lines
                if line.meets(hour)
            ]
            assert [*study.may_come(visit, day)] == (cut if lines else [*hours])
