"""Which cautions belong to which protocol."""

from dataclasses import replace

from planner.documents import care
from planner.protocol.model import Step


def grip(make):
    return make.manoeuvre(
        "grip", title="Handgrip", rigs=("dynamometer",), readings={}, enough=(), stop_if=(), kit=()
    )


def test_forced_breaths_bring_the_questions_before_them(make):
    protocol = make.rowing_protocol()
    assert any("heart attack within 1 week" in line for line in care.before_efforts(protocol))
    assert any("eardrum" in line for line in care.before_efforts(protocol))


def test_volumes_alone_do_not_bring_those_on_pressures(make):
    protocol = make.rowing_protocol(manoeuvres={"fvc": make.manoeuvre()})
    assert not any("eardrum" in line for line in care.before_efforts(protocol))


def test_a_grip_is_no_breath(make):
    step = Step("grip", "Grip", measure=("grip",))
    protocol = make.rowing_protocol(manoeuvres={"grip": grip(make)}, visit=(step,), title="Grip", priority=())
    assert care.before_efforts(protocol) == ()
    assert care.around_exercise(protocol) == ()


def test_a_manoeuvre_without_readings_is_known_by_its_name(make):
    assert care.is_breath(make.manoeuvre(readings={}, enough=()))
    assert care.is_pressure(make.mep(readings={}, enough=()))
    assert not care.is_breath(grip(make))


def test_what_the_protocol_says_itself_is_not_said_twice(make):
    protocol = make.rowing_protocol(cautions=())
    assert len(care.around_exercise(protocol)) == 3
    own = replace(protocol, cautions=("Sit on a chair with arms.", "It is cold: dress well."))
    assert len(care.around_exercise(own)) == 1


def test_soon_after_exercise(make):
    protocol = make.rowing_protocol()
    assert care.is_soon_after_exercise(protocol)
    assert not care.is_soon_after_exercise(replace(protocol, visit=protocol.visit[:3]))


def test_cycling_against_a_load_is_no_loaded_breathing(make):
    protocol = make.rowing_protocol()
    cycling = replace(protocol, visit=(replace(protocol.visit[2], title="Cycling without load"),))
    assert not any("tingling" in line for line in care.before_efforts(cycling))
    loaded = replace(protocol, title="Loaded breathing to the limit")
    assert any("tingling" in line for line in care.before_efforts(loaded))
