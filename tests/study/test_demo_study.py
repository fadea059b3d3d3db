"""The demo study is sound, warns of nothing, and shows what a study may ask for."""

from collections import Counter

from planner.study.read import read_study


def test_the_demo_study_is_sound(demo):
    study = read_study(demo)
    assert study.warnings == ()
    assert study.demo
    assert study.participants == tuple(f"ROW-{number:02}" for number in range(1, 19))
    assert [person.id for person in study.people] == ["K1", "K2", "K3", "K4", "K5"]
    assert len({person.roles for person in study.people}) == 5, "different roles"
    assert {name: sum(name in rig.classes for rig in study.rigs) for name in study.rigs[0].classes} == {
        "spirometer": 2
    }
    assert (study.last_day - study.first_day).days == 23, "three and a half weeks"


def test_what_it_asks_for(demo):
    study = read_study(demo)
    for visits in study.asked.values():
        assert [visit.file_id for visit in visits] == ["practice", "rowing-1", "rowing-2", "rowing-3"]
    orders = Counter(tuple(visit.condition for visit in visits[1:]) for visits in study.asked.values())
    assert set(orders.values()) == {3}, "six sequences, each three times"
    assert study.kind("rowing").blind
    assert study.keep_same_across == study.keep_same_within == ("spirometer",)
    assert study.before_first_use["spirometer"].takes_s == 600
    assert any(rig.out for rig in study.rigs)
    assert any(person.absent for person in study.people)
    assert any(step.watch for step in study.protocols["../protocols/cold-air-rowing.yaml"].visit)


def test_nothing_is_invented_that_could_be_dialled(demo):
    assert "emergency number" not in read_study(demo).on_site
