"""Files become values that know their line and column; whatever cannot be read says why."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from planner.faults import Faults, Place
from planner.files import MOST_YAML_BYTES, Tree, inside, read_table, read_yaml, yaml_tree


def read(text: str) -> tuple[Tree | None, list[str]]:
    faults = Faults()
    tree = yaml_tree(text, "x.yaml", faults)
    return tree, [f"{one.place.line}:{one.place.column}:{one.code}" for one in faults.faults]


def from_file(tmp_path: Path, data: bytes) -> tuple[Tree | None, Faults]:
    path = tmp_path / "x.yaml"
    path.write_bytes(data)
    faults = Faults()
    return read_yaml(path, faults), faults


def test_every_scalar_is_the_text_that_was_written():
    """Where a YAML 1.1 reader gives 300, False, 8, a date and a float."""
    tree, faults = read(
        "a: 5:00\nb: no\nc: 010\nd: 2027-03-01\ne: 1.0\nf: 'x'\ng:\nh: ~\ni: '~'\nj: 0x1F\nk: .inf\n"
    )
    assert tree is not None
    assert not faults
    assert tree.value == {
        **{"a": "5:00", "b": "no", "c": "010", "d": "2027-03-01", "e": "1.0", "f": "x", "g": None},
        **{"h": None, "i": "~", "j": "0x1F", "k": ".inf"},
    }


def test_keys_items_and_values_know_their_places():
    tree, _ = read("a:\n  - x\n  - b: {c: y}\n")
    assert tree is not None
    assert tree.places[("a",)] == Place("x.yaml", 1, 1)
    assert tree.places[("a", 1)] == Place("x.yaml", 3, 5)
    assert tree.places[("a", 1, "b", "c")] == Place("x.yaml", 3, 9)
    assert tree.value_place(("a", 1, "b", "c")) == Place("x.yaml", 3, 12)
    assert tree.place(("a", 1, "b", "nothing", "more")) == Place("x.yaml", 3, 5)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a: 1\nb: 2\na: 3\n", ["3:1:duplicate-key"]),
        ("a: {b: 1, b: 2}\n", ["1:11:duplicate-key"]),
        ("a: &x 1\nb: *x\n", ["1:4:anchor", "2:4:alias"]),
        ("a: {<<: {b: 1}}\n", ["1:5:merge-key"]),
        ("a: !!int 5\n", ["1:4:tag"]),
        ("? [a]\n: b\n", ["1:3:key-kind"]),
        (": b\n", ["1:1:key-kind"]),
        ("*x : b\n", ["1:1:alias"]),
        ("a:\n\tb: 1\n", ["2:1:tab"]),
        ("a: 1\n---\nb: 2\n", ["2:1:several-documents"]),
        ("%YAML 1.1\n---\na: 1\n", ["2:1:yaml-version"]),
        ("", ["1:1:empty-file"]),
        ("# nothing\n", ["1:1:empty-file"]),
        ("---\n...\n", ["2:1:empty-file"]),
        ("[" * 100, ["1:32:too-deep"]),
        ("- " * 100, ["1:63:too-deep"]),
        ("a: [b, c\nd: e\n", ["1:4:yaml-syntax"]),
        ("a: 'b\nc: d\n", ["1:4:yaml-syntax"]),
        ("a: 1\nb\nc: 2\n", ["2:1:yaml-syntax"]),
        ("a: b: c\n", ["1:5:yaml-syntax"]),
        ("a:\n  - b\n c: 1\n", ["3:2:yaml-syntax"]),
        ('a: "\\UFFFFFFFF"\n', ["1:1:yaml-syntax"]),
        ("a: @b\n", ["1:4:yaml-syntax"]),
    ],
)
def test_the_traps_of_yaml_are_told_with_their_place(text: str, expected: list[str]):
    assert read(text)[1] == expected


def test_all_traps_of_a_file_are_told_at_once():
    _, faults = read("a: &x 1\nb: *x\nb: 2\nc: !t 3\n")
    assert faults == ["1:4:anchor", "2:4:alias", "3:1:duplicate-key", "4:4:tag"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a: 'b\n", "the quote that begins here is not closed"),
        ("a: [b, c\nd: e\n", "Close it with ], or put a comma between its items"),
        ("a: [b]]\n", "] stands here, but no bracket is open"),
        ("a: b: c\n", "Put a text with a colon in quotes"),
        ("a: @b\n", "a text cannot begin with @"),
        ("a: 1\nb\nc: 2\n", "a key stands here without its colon"),
        ('a: "\\q"\n', "use single quotes"),
        ("a:\n\tb: 1\n", "Indent with spaces"),
    ],
)
def test_what_the_parser_stumbles_over_is_told_in_words_of_the_trade(text: str, words: str):
    faults = Faults()
    assert yaml_tree(text, "x.yaml", faults) is None
    assert words.lower() in faults.faults[0].words.lower()
    assert not any(word in faults.faults[0].words for word in ("block", "scalar", "token", "node"))


def test_tabs_at_the_end_of_a_line_mean_nothing():
    tree, faults = read("a: 1\t\r\n\t\nb:  \t\n  - c")
    assert tree is not None
    assert (tree.value, faults) == ({"a": "1", "b": ["c"]}, [])


@pytest.mark.parametrize(
    ("text", "code"),
    [("a\n" * 60_000, "too-many-lines"), ("a: !" + "b" * 300, "tag"), ("!" * 900_000, "tag")],
)
def test_what_would_keep_the_parser_busy_is_refused_before(text: str, code: str):
    tree, faults = read(text)
    assert tree is None
    assert [one.rsplit(":", 1)[1] for one in faults] == [code]


def test_more_values_than_a_person_writes_are_refused():
    tree, faults = read("[" + "a," * 60_000 + "]")
    assert tree is None
    assert faults == ["1:80000:too-many-values"]


def test_windows_line_ends_and_a_byte_order_mark_change_nothing(tmp_path: Path):
    plain, _ = from_file(tmp_path, b"a: 1\nb:\n  - c\n")
    tree, faults = from_file(tmp_path, b"\xef\xbb\xbfa: 1\r\nb:\r\n  - c\r\n")
    assert not faults.faults
    assert tree == plain


@pytest.mark.parametrize(
    ("data", "place", "code"),
    [
        ("a: é\n".encode("utf-16"), (1, 1), "encoding"),
        ("a: 1\n".encode("utf-16-be"), (1, 1), "control-character"),
        ("a: 1\nb: é\n".encode("latin-1"), (2, 4), "encoding"),
        (b"\xef\xbb\xbfa: \xff\n", (1, 4), "encoding"),
        (b"a: 1\nb: x\x00y\n", (2, 5), "control-character"),
        (b"a: \x1b[31m\n", (1, 4), "control-character"),
        ("a: x\u2028y\n".encode(), (1, 5), "control-character"),
        (b"\r\n\r\na: \x07\n", (3, 4), "control-character"),
    ],
)
def test_other_encodings_and_control_characters_are_refused(
    tmp_path: Path, data: bytes, place: tuple[int, int], code: str
):
    tree, faults = from_file(tmp_path, data)
    assert tree is None
    assert [(one.place.line, one.place.column, one.code) for one in faults.faults] == [(*place, code)]


@pytest.mark.parametrize("size", [MOST_YAML_BYTES + 1, 10_000_000])
def test_more_than_a_megabyte_is_refused_before_it_is_parsed(tmp_path: Path, size: int):
    tree, faults = from_file(tmp_path, b"[" * size)
    assert tree is None
    assert [one.code for one in faults.faults] == ["too-big"]


def test_a_megabyte_is_read(tmp_path: Path):
    tree, faults = from_file(tmp_path, b"a: " + b"x" * (MOST_YAML_BYTES - 4) + b"\n")
    assert not faults.faults
    assert tree is not None
    assert len(tree.value["a"]) == MOST_YAML_BYTES - 4


def test_what_is_no_file_is_refused(tmp_path: Path):
    os.mkfifo(tmp_path / "pipe")  # opening it would wait for ever
    (tmp_path / "protocol.yaml").write_text("a: 1")
    cases = {
        "": "not-a-file",
        "pipe": "not-a-file",
        "protocl.yaml": "no-file",
        "a\0b": "unreadable",
        "x" * 300: "unreadable",
    }
    for name, code in cases.items():
        faults = Faults()
        assert read_yaml(tmp_path / name, faults, shown="shown.yaml") is None
        assert [(one.code, one.place.file) for one in faults.faults] == [(code, "shown.yaml")]
        assert ("protocol.yaml" in faults.faults[0].hint) == (name == "protocl.yaml")


def test_an_endless_device_is_not_read():
    faults = Faults()
    assert read_yaml(Path("/dev/zero"), faults) is None
    assert [one.code for one in faults.faults] == ["not-a-file"]


def table(tmp_path: Path, text: str, faults: Faults):
    path = tmp_path / "t.csv"
    path.write_bytes(text.encode())
    return read_table(path, faults, needed=["person", "roles"], optional=["note"])


def test_a_table_gives_rows_by_column_with_their_places(tmp_path: Path):
    faults = Faults()
    found = table(tmp_path, '\ufeffperson,roles,note\r\nK1, lead ,"a, b"\r\n\r\nK2,operator\r\n', faults)
    assert found is not None
    assert not faults.faults
    assert not faults.warnings
    assert [row.cells for row in found.rows] == [
        {"person": "K1", "roles": "lead", "note": "a, b"},
        {"person": "K2", "roles": "operator", "note": ""},
    ]
    assert [row.line for row in found.rows] == [2, 4]
    assert found.rows[0].place("note") == Place("t.csv", 2, 11)
    assert found.rows[1].place("roles") == Place("t.csv", 4, 4)


def test_a_row_over_several_lines_begins_where_its_first_line_does(tmp_path: Path):
    faults = Faults()
    found = table(tmp_path, 'person,roles,note\nK1,lead,"two\nlines"\nK2,lead,\n', faults)
    assert found is not None
    assert [row.line for row in found.rows] == [2, 4]


def test_an_unknown_column_is_a_warning_with_the_nearest_name(tmp_path: Path):
    faults = Faults()
    found = table(tmp_path, "person,roles,notes\nK1,lead,x\n", faults)
    assert found is not None
    assert not faults.faults
    assert [(one.place.column, one.code, one.hint) for one in faults.warnings] == [
        (14, "unknown-column", "Did you mean 'note'?")
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", ["1:1:empty-file"]),
        ("\n\n", ["1:1:empty-file"]),
        ("person,note\nK1,x\n", ["1:1:missing-column"]),
        ("person;roles\nK1;lead\n", ["1:1:separator"]),
        ("person,roles,person\n", ["1:14:duplicate-column"]),
        ("person,roles\nK1,lead,x\nK2,lead,y\n", ["2:9:extra-cell", "3:9:extra-cell"]),
        ('person,roles\nK1,"lead\n', ["2:1:table-syntax"]),
        ('person,roles\nK1,"lead"x\n', ["2:1:table-syntax"]),
        ("person,roles\nK1,l\x00\n", ["2:5:control-character"]),
    ],
)
def test_what_is_wrong_with_a_table_is_told(tmp_path: Path, text: str, expected: list[str]):
    faults = Faults()
    table(tmp_path, text, faults)
    assert [f"{one.place.line}:{one.place.column}:{one.code}" for one in faults.faults] == expected


def test_a_cell_longer_than_the_reader_takes_is_told(tmp_path: Path):
    faults = Faults()
    table(tmp_path, "person,roles\nK1," + "x" * 200_000 + "\n", faults)
    assert [one.code for one in faults.faults] == ["table-syntax"]
    assert "a cell of this row has 200000 letters" in faults.faults[0].words
    assert "quotes" not in faults.faults[0].words


def test_a_quote_that_is_never_closed_is_told_as_such_however_much_follows(tmp_path: Path):
    faults = Faults()
    table(tmp_path, 'person,roles\nK1,"lead\n' + "K2,lead\n" * 20_000, faults)
    assert [str(one.place.line) for one in faults.faults] == ["2"]
    assert "Check its quotes." in faults.faults[0].words


def test_a_reference_is_a_plain_name_in_the_folder_or_one_up(tmp_path: Path):
    study = tmp_path / "study"
    for folder in (study, tmp_path / "protocols"):
        folder.mkdir()
    for path in (study / "a.yaml", tmp_path / "b.yaml", tmp_path / "protocols" / "c.yaml"):
        path.write_text("x")
    for name in ("a.yaml", "../b.yaml", "../protocols/c.yaml"):
        faults = Faults()
        found = inside(study, name, Place("study.yaml"), faults)
        assert found is not None
        assert found.is_file()
        assert not faults.faults


@pytest.mark.parametrize(
    "name",
    [
        "/etc/passwd",
        "../../etc/passwd",
        "sub/a.yaml",
        "..",
        ".",
        "",
        "../",
        "..\\a.yaml",
        "C:a.yaml",
        "../../a.yaml",
        "../a/b/c.yaml",
        "a.yaml\n",
        "../../study/a.yaml",
        "~/a.yaml",
        "../.",
        "../a/..",
        "./a.yaml",
    ],
)
def test_every_other_reference_is_refused(tmp_path: Path, name: str):
    faults = Faults()
    assert inside(tmp_path, name, Place("study.yaml", 3, 4), faults) is None
    assert [(one.code, one.place) for one in faults.faults] == [("outside", Place("study.yaml", 3, 4))]


def test_links_are_not_followed(tmp_path: Path):
    study = tmp_path / "study"
    study.mkdir()
    secret = tmp_path / "secret.txt"
    secret.write_text("hidden words")
    (study / "a.yaml").symlink_to(secret)
    (tmp_path / "linked").symlink_to(study, target_is_directory=True)
    (study / "b.yaml").write_text("x")
    for name in ("a.yaml", "../linked/b.yaml"):
        faults = Faults()
        assert inside(study, name, Place("study.yaml"), faults) is None
        assert [one.code for one in faults.faults] == ["link"]
        assert "hidden" not in str(faults.faults[0])


def test_a_missing_reference_names_the_nearest_file(tmp_path: Path):
    (tmp_path / "rowing.yaml").write_text("x")
    faults = Faults()
    assert inside(tmp_path, "rwing.yaml", Place("study.yaml"), faults) is None
    assert faults.faults[0].hint == "Did you mean rowing.yaml?"
