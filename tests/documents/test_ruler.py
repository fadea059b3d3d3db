"""The ruler: places in minutes from the end of exercise, worked out by hand."""

from dataclasses import replace
from decimal import Decimal

import altair as alt

from planner.documents.ruler import visit_chart, visit_picture, visit_words
from planner.documents.ruler_marks import bars, brackets
from planner.protocol.model import Due, Length, Step, TimePoint
from planner.timing.forecast import forecast
from planner.timing.lay_out import lay_out

SHARE = Decimal("0.8")


def test_zero_is_the_end_of_exercise(make):
    found = bars(lay_out(make.rowing_protocol(), SHARE))
    bout = next(bar for bar in found if bar.row == "rowing ergometer")
    assert (bout.start, bout.planned) == (-20, 0)
    # preparing FVC takes a minute and its first effort is due at one minute: it starts at zero
    after = [bar for bar in found if bar.row == "spirometer" and bar.start >= 0]
    assert [bar.start for bar in after] == [0, 9, 29]


def test_brackets_stand_on_their_windows(make):
    found = brackets(lay_out(make.rowing_protocol(), SHARE))
    assert [(b.early, b.at, b.late) for b in found] == [
        (-10, -10, -9),
        (1, 1, 1.5),
        (10, 10, 12),
        (29, 30, 32),
    ]
    assert all(b.chance is None for b in found)


def test_a_window_before_hangs_on_what_follows(make):
    """On time if the gap is within [at - late, at + early]: 3 to 6 minutes before rowing starts."""
    before = Step(
        "before", "Measures", measure=("fvc",), due=Due("row", "before", "start", (TimePoint(300, 60, 120),))
    )
    row = Step("row", "Rowing", takes=Length(600, 600, 600), exercise=True)
    found = brackets(lay_out(make.rowing_protocol(visit=(before, row), priority=()), SHARE))
    assert [(b.early, b.at, b.late) for b in found] == [(-16, -15, -13)]


def test_a_forecast_gives_quantiles_and_chances(make):
    protocol = make.rowing_protocol()
    plan, seen = lay_out(protocol, SHARE), forecast(protocol, SHARE)
    for bar in bars(plan, seen):
        assert bar.start <= bar.half <= bar.planned <= bar.longest
        assert bar.p10 <= bar.half <= bar.p90
    chances = [b.chance for b in brackets(plan, seen)]
    assert all(0 <= chance <= 1 for chance in chances)


def test_without_exercise_it_counts_from_the_start(make):
    plan = lay_out(make.rowing_protocol(visit=(Step("a", "Measures", measure=("fvc",)),), priority=()), SHARE)
    assert bars(plan)[0].start == 0
    assert "Minutes from the start of the visit" in visit_chart(plan).to_json()


def test_the_chart_is_whole_and_names_its_axis(make):
    protocol = make.rowing_protocol()
    chart = visit_chart(lay_out(protocol, SHARE), forecast(protocol, SHARE))
    assert isinstance(chart, alt.LayerChart)
    text = chart.to_json()
    assert "Minutes from the end of exercise" in text
    assert "of 100" in text


def test_the_words_say_what_the_picture_shows(make):
    protocol = make.rowing_protocol()
    words = visit_words(lay_out(protocol, SHARE), forecast(protocol, SHARE)).replace("\u00a0", " ")
    assert "Rowing in the cold room: from −20 to 0 min." in words
    assert "due 30, on time from 29 to 32 min, on time in" in words


def test_the_picture_for_a_paper(make):
    protocol = make.rowing_protocol()
    drawn = visit_picture(lay_out(protocol, SHARE), forecast(protocol, SHARE))
    assert drawn.svg().startswith("<svg")
    assert "Noto Sans" in drawn.svg()
    assert drawn.pdf().startswith(b"%PDF")
    assert drawn.name == "ruler_cold-air-rowing"
    assert "FVC efforts" in drawn.data()


def hatched(chart: alt.LayerChart) -> list[float]:
    """Where the strokes of a hatch stand, in minutes."""
    layers = [layer for layer in chart.to_dict()["layer"] if layer["mark"].get("shape")]
    return [stroke["x"] for layer in layers for stroke in layer["data"]["values"]]


def test_a_crowded_window_is_hatched_from_end_to_end_and_no_other(make):
    protocol = make.rowing_protocol()
    plan, seen = lay_out(protocol, SHARE), forecast(protocol, SHARE)
    crowded = next(iter(seen.chances))
    chances = {n: replace(c, share=0.5 if n == crowded else 1.0) for n, c in seen.chances.items()}
    forced = replace(seen, chances=chances)
    window = next(b for b in brackets(plan, forced) if b.chance == 0.5)
    strokes = hatched(visit_chart(plan, forced))
    assert len(strokes) > 1
    assert all(window.early < x < window.late for x in strokes)
    assert max(strokes) - min(strokes) > 0.5 * (window.late - window.early)
    nothing = replace(seen, chances={n: replace(c, share=1.0) for n, c in seen.chances.items()})
    assert hatched(visit_chart(plan, nothing)) == []
