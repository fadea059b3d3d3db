"""The rule to finish, in words, and the sum beside it."""

from planner.documents.rule_words import check_lines, finish_words, joined, short_words
from planner.protocol.model import EnoughLine
from planner.quantity import quantity

LITRES = (quantity("0.150 L"),)
WIDER = (quantity("10 %"), quantity("5 cmH2O"))


def plain(text):
    return text.replace("\u00a0", " ")


def test_one_reading(make):
    fvc = make.manoeuvre(enough=(EnoughLine("FVC", "largest", 2, LITRES),))
    assert plain(finish_words(fvc)) == "Finish when the two largest FVC are within 0.150 L."
    assert check_lines(fvc) == ["FVC: [_] − [_] = [_]"]
    assert plain(short_words(fvc)) == "Finish when the two largest are within 0.150 L: FVC [_]"


def test_readings_that_ask_for_the_same_are_named_together(make):
    words = plain(finish_words(make.manoeuvre()))
    assert words == "Finish when the two largest FVC and the two largest FEV1 are within 0.150 L."
    assert plain(short_words(make.manoeuvre())).endswith("within 0.150 L: FVC [_] FEV1 [_]")


def test_readings_that_ask_for_different_things_are_not(make):
    lines = (
        EnoughLine("FVC", "largest", 2, LITRES),
        EnoughLine("FEV1", "largest", 3, (quantity("0.100 L"),)),
    )
    words = plain(finish_words(make.manoeuvre(enough=lines)))
    assert words == (
        "Finish when the two largest FVC are within 0.150 L and the three largest FEV1 are within 0.100 L."
    )


def test_any_three_within_the_wider_of_two(make):
    words = plain(finish_words(make.mep()))
    assert (
        words
        == "Finish when any three MEP are within 10 % of the largest of them or 5 cmH2O, whichever is wider."
    )
    assert plain(check_lines(make.mep())[0]) == (
        "MEP, highest and lowest of three: [_] − [_] = [_]; 10 % of the highest = [_]"
    )
    assert (
        plain(short_words(make.mep())) == "Finish when any three are within 10 % or 5 cmH2O, the wider: [_]"
    )


def test_without_a_rule_the_number_is_said(make):
    assert (
        finish_words(make.manoeuvre(enough=(), at_least=3, at_most=3)) == "Make three efforts, then finish."
    )
    assert finish_words(make.manoeuvre(enough=(), at_least=1, at_most=1)) == "Make one effort."
    assert "Make 3 acceptable efforts, at most 5" in finish_words(make.manoeuvre(enough=(), at_most=5))


def test_joining():
    assert [joined([]), joined(["a"]), joined(["a", "b"]), joined(["a", "b", "c"])] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]
