"""People against the plan: nothing unless turned on, then every block written down by somebody else."""

from types import SimpleNamespace

from planner.adherence.hands import hands, other_hands


def row(who, step="after", at_s=60, manoeuvre="fvc"):
    return SimpleNamespace(
        participant="ROW-01", visit="rowing", number=1, step=step, at_s=at_s, manoeuvre=manoeuvre, who=who
    )


def test_off_unless_turned_on(by_hand):
    assert other_hands(by_hand.schedule, hands([row("K3")])) == ()


def test_somebody_else_is_found_once_a_block(by_hand):
    written = hands([row("K1"), row("K3"), row("K3"), row("K1", manoeuvre="mep"), row("", at_s=900)])
    found = other_hands(by_hand.schedule, written, turned_on=True)
    assert [(d.kind, d.step, d.at_s, d.manoeuvre, d.words) for d in found] == [
        ("other staff member", "after", 60, "fvc", "written down by K3; planned for K1")
    ]


def test_what_is_not_in_the_plan_is_not_judged(by_hand):
    written = hands([row("K3", step="elsewhere"), row("K3", manoeuvre=None)])
    assert other_hands(by_hand.schedule, written, turned_on=True) == ()
