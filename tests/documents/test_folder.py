"""Nothing that a person changed is overwritten; what is outdated steps aside."""

import pytest

from planner.documents.folder import Folder


def put(path, files, study="s", retire=False):
    folder = Folder(path, study)
    written = [folder.put(name, content).name for name, content in files.items()]
    if retire:
        folder.retire(files)
    folder.close()
    return written, folder


def test_our_own_files_are_renewed(tmp_path):
    put(tmp_path, {"a.pdf": b"1"})
    written, _ = put(tmp_path, {"a.pdf": b"2"})
    assert written == ["a.pdf"]
    assert (tmp_path / "a.pdf").read_bytes() == b"2"


def test_a_changed_file_is_left_and_the_new_one_lies_beside_it(tmp_path):
    put(tmp_path, {"a.pdf": b"1"})
    (tmp_path / "a.pdf").write_bytes(b"by hand")
    written, folder = put(tmp_path, {"a.pdf": b"2"})
    assert written == ["a (new).pdf"]
    assert folder.beside == {"a.pdf": "a (new).pdf"}
    assert (tmp_path / "a.pdf").read_bytes() == b"by hand"
    assert (tmp_path / "a (new).pdf").read_bytes() == b"2"


def test_the_next_time_the_one_beside_it_is_renewed_unless_it_was_changed_too(tmp_path):
    put(tmp_path, {"a.pdf": b"1"})
    (tmp_path / "a.pdf").write_bytes(b"by hand")
    put(tmp_path, {"a.pdf": b"2"})
    assert put(tmp_path, {"a.pdf": b"3"})[0] == ["a (new).pdf"]
    (tmp_path / "a (new).pdf").write_bytes(b"by hand too")
    assert put(tmp_path, {"a.pdf": b"4"})[0] == ["a (new 2).pdf"]
    assert (tmp_path / "a (new).pdf").read_bytes() == b"by hand too"


def test_a_file_of_somebody_else_is_not_overwritten(tmp_path):
    (tmp_path / "a.pdf").write_bytes(b"mine")
    assert put(tmp_path, {"a.pdf": b"1"})[0] == ["a (new).pdf"]
    assert (tmp_path / "a.pdf").read_bytes() == b"mine"


def test_an_equal_file_stays_as_it_is(tmp_path):
    (tmp_path / "a.pdf").write_bytes(b"1")
    assert put(tmp_path, {"a.pdf": b"1"})[0] == ["a.pdf"]


def test_outdated_files_move_and_changed_ones_stay(tmp_path):
    put(tmp_path, {"old.pdf": b"1", "changed.pdf": b"1", "gone.pdf": b"1"})
    (tmp_path / "changed.pdf").write_bytes(b"by hand")
    (tmp_path / "gone.pdf").unlink()
    _, folder = put(tmp_path, {"new.pdf": b"1"}, retire=True)
    assert folder.retired == ["old.pdf"]
    assert folder.kept == ["changed.pdf"]
    assert (tmp_path / "replaced" / "old.pdf").read_bytes() == b"1"
    assert (tmp_path / "changed.pdf").read_bytes() == b"by hand"


def test_what_moved_before_is_not_overwritten_by_what_moves_now(tmp_path):
    for content in (b"1", b"2"):
        put(tmp_path, {"old.pdf": content})
        put(tmp_path, {"new.pdf": b"1"}, retire=True)
    assert {p.read_bytes() for p in (tmp_path / "replaced").iterdir()} == {b"1", b"2"}


def test_another_study_in_the_same_folder_loses_nothing(tmp_path):
    put(tmp_path, {"a.pdf": b"1"}, study="one")
    written, folder = put(tmp_path, {"b.pdf": b"2"}, study="two", retire=True)
    assert folder.retired == []
    assert (tmp_path / "a.pdf").exists()
    assert written == ["b.pdf"]


@pytest.mark.parametrize("damage", [b"", b"{", b"[]", b'{"study": "s", "files": 3}', b"\xff"])
def test_a_damaged_list_makes_it_careful_not_broken(tmp_path, damage):
    put(tmp_path, {"a.pdf": b"1"})
    (tmp_path / ".documents.json").write_bytes(damage)
    assert put(tmp_path, {"a.pdf": b"2"})[0] == ["a (new).pdf"]
