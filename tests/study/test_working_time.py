"""Warnings about shifts; the limits are those of Directive 2003/88/EC (from memory)."""


def codes(folder):
    return [(one.code, one.place.file, one.place.line) for one in folder.study().warnings]


def test_a_long_shift_without_a_break(folder):
    folder.replace("shifts.csv", "K1,mon-fri,08:00,16:30,12:00-12:30", "K1,mon-fri,08:00,14:00,")
    assert codes(folder) == []
    folder.replace("shifts.csv", "08:00,14:00,", "08:00,14:01,")
    assert codes(folder) == [("no-break", "shifts.csv", 2)]


def test_a_short_night(folder):
    folder.replace(
        "shifts.csv", "K1,mon-fri,08:00,16:30,12:00-12:30", "K1,mon,16:00,21:00,\nK1,tue,08:00,12:00,"
    )
    assert codes(folder) == []
    folder.replace("shifts.csv", "K1,mon,16:00,21:00,", "K1,mon,16:00,21:01,")
    assert codes(folder) == [("short-night", "shifts.csv", 3)]


def test_a_long_week(folder):
    folder.replace("shifts.csv", "K1,mon-fri,08:00,16:30,12:00-12:30", "K1,mon-fri,07:00,17:30,12:00-12:54")
    assert codes(folder) == [], "48 h are allowed"
    folder.replace("shifts.csv", "12:00-12:54", "12:00-12:53")
    assert codes(folder) == [("long-week", "shifts.csv", 2)]
