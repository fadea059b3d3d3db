"""A bent efforts file of the demo study, counted a second time with pandas from the file alone.

What the protocol asks for is written out here; nothing of the product's counting is used. The figures are
those that stand on the page and in the report.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest

from planner.adherence.as_json import document
from planner.adherence.compare import compare
from planner.adherence.words import summary_words
from planner.record.efforts_file import read_efforts, write_efforts
from planner.record.lines import gather
from planner.record.rehearse import rehearse
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
# Seconds early and late that are on time, by the time point's place; `10 min` of `row` counts from its start.
WINDOWS = {
    ("row", "10 min"): (600, 0, 120), ("after", "1 min"): (60, 0, 60),
    ("after", "10 min"): (600, 0, 180), ("after", "30 min"): (1800, 120, 300),
}  # fmt: skip
FVC = (("FVC", 2, Decimal("0.150"), None), ("FEV1", 2, Decimal("0.150"), None))
# Least and most efforts, seconds of an effort, and the rule: reading, how many, within, or that share.
ASKED = {
    "fvc": (3, 8, 20, FVC), "fvc-after": (2, 3, 20, FVC), "fvc-during": (2, 2, 20, ()),
    "mip-during": (2, 2, 10, ()), "mep-during": (2, 2, 10, ()),
    "mip": (3, 5, 10, (("MIP", 3, Decimal(5), Decimal("0.10")),)),
    "mep": (3, 5, 10, (("MEP", 3, Decimal(5), Decimal("0.10")),)),
}  # fmt: skip
ROWING = [("before", "", name) for name in ("fvc", "mip", "mep")]
ROWING += [("row", "10 min", f"{name}-during") for name in ("fvc", "mip", "mep")]
ROWING += [
    ("after", at, name) for at in ("1 min", "10 min", "30 min") for name in ("fvc-after", "mip", "mep")
]
VISIT, BLOCK = ["participant", "visit"], ["participant", "visit", "step", "at", "manoeuvre"]


def bent(table: pd.DataFrame) -> pd.DataFrame:
    """Late, early, missed, extra, unacceptable, hurried and broken off: drawn block by block."""
    draw = random.Random(5)
    table = table.assign(t=pd.to_datetime(table["started"]), note="")
    rows, gone = [], set()
    for (_, _, step, _, manoeuvre), block in table[table["effort"] != ""].groupby(BLOCK, sort=True):
        numbers = block["effort"].astype(int)
        what = draw.choice(["late", "early", "missed", "extra", "refused", "fewer", "hurried", *["kept"] * 7])
        if what in ("late", "early") and (step, manoeuvre) in {("after", "fvc-after"), ("row", "fvc-during")}:
            by = draw.choice([20, 59, 60, 61, 121, 180, 181, 300]) * (1 if what == "late" else -1)
            table.loc[block.index, "t"] += pd.Timedelta(seconds=by)
        elif what == "missed":
            gone.update(block.index)
        elif what == "extra":
            last = block[numbers == numbers.max()]
            for number in range(numbers.max() + 1, ASKED[manoeuvre][1] + 2):
                later = pd.Timedelta(seconds=60 * (number - numbers.max()))
                rows.append(last.assign(effort=str(number), t=last["t"] + later))
        elif what == "refused":
            table.loc[block.index[numbers == 1], "acceptable"] = "no"
        elif what == "fewer":
            gone.update(block.index[numbers > 1])
        elif what == "hurried":
            table.loc[block.index[numbers == 2], "t"] -= pd.Timedelta(seconds=4)
    table = pd.concat([table.drop(index=list(gone)), *rows], ignore_index=True)
    visits = sorted(set(map(tuple, table.loc[table["step"] == "row", VISIT].values.tolist())))
    no_end, *stopped = draw.sample(visits, 4)
    table = table[~(is_end(table) & of_visit(table, no_end))]
    for visit in stopped:
        end = table[is_end(table) & of_visit(table, visit)].iloc[0]
        stop = end["t"] + pd.Timedelta(minutes=5)
        table = table[~(of_visit(table, visit) & (table["t"] >= stop))]
        table = pd.concat([table, end.to_frame().T.assign(reading="stopped", t=stop)])
    table = table.sort_values("t", kind="stable")
    return table.assign(started=pd.to_datetime(table["t"]).dt.strftime("%Y-%m-%dT%H:%M:%S"))


def is_end(table: pd.DataFrame) -> pd.Series:
    return (table["step"] == "row") & (table["reading"] == "end")


def of_visit(table: pd.DataFrame, visit: tuple[str, str]) -> pd.Series:
    return (table["participant"] == visit[0]) & (table["visit"] == visit[1])


def holds(block: pd.DataFrame, rule: tuple[tuple[str, int, Decimal, Decimal | None], ...]) -> bool:
    """Whether the acceptable values agree: the two largest FVC; any three pressures."""
    for reading, count, within, share in rule:
        of_it = block[(block["reading"] == reading) & (block["acceptable"] != "no")]
        values = sorted((abs(Decimal(value)) for value in of_it["value"]), reverse=True)
        groups = [values[n : n + count] for n in range(len(values) - count + 1)][: 1 if count == 2 else None]
        if not any(g[0] - g[-1] <= max(within, (share or 0) * g[0]) for g in groups):
            return False
    return True


def counted(table: pd.DataFrame) -> Counter[str]:
    """Every figure of the summary, from the table alone."""
    found = Counter[str]()
    for _, own in table.groupby(VISIT):
        is_stopped = bool((own["reading"] == "stopped").any())
        if (own["step"] == "row").any():
            count_points(own, is_stopped, found)
        blocks = ROWING if own["visit"].iloc[0].startswith("rowing") else None
        for step, at, name in blocks or [("measures", "", name) for name in ("fvc", "mip", "mep")]:
            block = own[(own["step"] == step) & (own["at"] == at) & (own["manoeuvre"] == name)]
            count_block(block, name, is_stopped, is_stopped and is_last(own, block), found)
    return found


def is_last(own: pd.DataFrame, block: pd.DataFrame) -> bool:
    """Whether the visit's last effort is one of that block."""
    return not block.empty and own.loc[own["effort"] != "", "t"].max() == block["t"].max()


def count_points(own: pd.DataFrame, is_stopped: bool, found: Counter[str]) -> None:
    marks = own[own["step"] == "row"].drop_duplicates("reading").set_index("reading")["t"]
    for (step, at), (at_s, early, late) in WINDOWS.items():
        block = own[(own["step"] == step) & (own["at"] == at) & own["manoeuvre"].str.startswith("fvc")]
        anchor = marks.get("start" if step == "row" else "end")
        until = None if anchor is None else anchor + pd.Timedelta(seconds=at_s + late)
        if block.empty and is_stopped and (until is None or until >= marks["stopped"]):
            found["stopped"] += 1
        elif anchor is None:
            found["no_anchor"] += 1
        else:
            found["of"] += 1
            off = (block["t"].min() - anchor).total_seconds() - at_s
            key = "late" if off > late else "early" if off < -early else "on_time"
            found["never_measured" if block.empty else key] += 1


def count_block(
    block: pd.DataFrame, name: str, is_stopped: bool, is_broken_off: bool, found: Counter[str]
) -> None:
    least, most, effort_s, rule = ASKED[name]
    efforts = block.drop_duplicates("effort").sort_values("t")
    count = len(efforts)
    found["recorded"] += count
    found["extra"] += max(0, count - most)
    fine = int((efforts["acceptable"] != "no").sum())
    found["missing"] += 0 if is_stopped else max(0, min(least - fine, most - count))
    rests = pd.to_datetime(efforts["t"]).diff().dt.total_seconds().dropna() - effort_s
    found["rests"] += len(rests)
    found["cut"] += int((rests < 30).sum())
    if not count or not rule:
        return
    end = None
    for n in range(least, min(count, most) + 1):
        so_far = block[block["effort"].isin(efforts["effort"].iloc[:n])]
        fine = so_far[so_far["acceptable"] != "no"]["effort"].nunique()
        if end is None and fine >= least and holds(so_far, rule):
            end = n
    if end is not None:
        found["as_soon_as_it_held" if count == end else "too_late"] += 1
    elif count >= most:
        found["without_agreement"] += 1
    else:
        found["broken_off" if is_broken_off else "too_early"] += 1


def wilson(kept: int, of: int) -> tuple[int, int]:
    """The 95 % range in whole per cent, by Wilson's formula."""
    z, share = 1.959963984540054, kept / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    half = z / (1 + z * z / of) * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    return round(100 * (middle - half)), round(100 * (middle + half))


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> SimpleNamespace:
    """The bent file as a table, and what the product makes of it."""
    folder = tmp_path_factory.mktemp("apart")
    study = read_study(ROOT / "demo_study")
    schedule = read_plan(ROOT / "demo_study" / "plan.json", study)
    path = folder / "efforts.csv"
    write_efforts(path, rehearse(study, schedule, visit_plans(study), seed=9), study)
    table = bent(pd.read_csv(path, dtype=str, keep_default_na=False))
    table.drop(columns="t").to_csv(path, index=False)
    read = read_efforts(path, study)
    assert read.refused == ()
    found = compare(study, schedule, gather(read.lines, rehearsed=False))
    return SimpleNamespace(table=table, study=study, schedule=schedule, found=found)


def test_every_figure_is_that_of_the_second_count(told: SimpleNamespace):
    ours, summary = counted(told.table), document(told.found)["summary"]
    points, efforts, rests, rule = (
        summary[name] for name in ("time_points", "efforts", "rests", "stop_rule")
    )
    for name in ("on_time", "of", "early", "late", "never_measured", "no_anchor", "stopped"):
        assert points[name] == ours[name], name
        assert ours[name] > 0, f"nothing of {name} was bent"
    assert efforts["recorded"] == ours["recorded"]
    assert (efforts["missing"], efforts["extra"]) == (ours["missing"], ours["extra"])
    assert (rests["of"], rests["cut_short"]) == (ours["rests"], ours["cut"])
    for name in ("as_soon_as_it_held", "too_early", "too_late", "without_agreement"):
        assert rule[name] == ours[name], name
    assert rule["visit_stopped"] == ours["broken_off"]
    for name in ("missing", "extra", "cut", "too_early", "too_late", "without_agreement"):
        assert ours[name] > 0, f"nothing of {name} was bent"


def test_the_words_of_the_page_and_the_report_say_these_figures(told: SimpleNamespace):
    ours = counted(told.table)
    kept, of = ours["on_time"], ours["of"]
    low, high = wilson(kept, of)
    share = f"{100 * kept / of:.0f} %, 95 % range {low} to {high} %"
    extra = f"{ours['extra']} beyond the most allowed"
    said = summary_words(told.found)
    for words in (
        f"Time points on time: {kept} of {of} ({share})",
        f"{ours['early']} early, {ours['late']} late, {ours['never_measured']} never measured",
        f"{ours['no_anchor']} with no recorded moment to count from, {ours['stopped']} after a stop",
        f"{ours['recorded']} recorded ({extra}), {ours['missing']} missing",
        f"Rests not cut short: {ours['rests'] - ours['cut']} of {ours['rests']}",
    ):
        assert words in said
