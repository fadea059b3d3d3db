"""Draws the run sheet that README's own protocol gives. Run: python tests/pictures/readme_sheet.py"""

from __future__ import annotations

import io
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from PIL import Image

from planner.documents.jobs import Wanted, jobs
from planner.documents.preview import pages
from planner.packing.pack import pack
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
FILES = {
    "study.yaml": """format: 1
name: short-row-study
time_zone: Europe/Oslo
visits: [{id: rowing, protocol: short-row.yaml}]
days: {from: 2027-03-01, to: 2027-03-01, open: {mon-fri: "08:00-12:00"}}
rigs: {spirometer: [S1], rowing ergometer: [E1]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
""",
    "staff.csv": "person,roles\nK1,operator\nK2,lead\n",
    "shifts.csv": "person,days,from,to,breaks\nK1,mon-fri,08:00,12:00,\nK2,mon-fri,08:00,12:00,\n",
    "participants.csv": "participant\nROW-01\n",
}


def main() -> None:
    """Write .images/short-row.png: the sheet's pages side by side."""
    text = (ROOT / "README.md").read_text("utf-8").split("```yaml\n")[1].split("```")[0]
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for name, content in {**FILES, "short-row.yaml": text}.items():
            (folder / name).write_text(content, encoding="utf-8")
        study = read_study(folder)
        plans = visit_plans(study)
        made = pack(study, plans, seconds=10, now=datetime(2027, 1, 4, 8, tzinfo=UTC))
        sheet = next(job.make() for job in jobs(study, made, plans, Wanted(), paper="a4"))
    shots = [Image.open(io.BytesIO(png)) for png in pages(sheet, dpi=72)]
    whole = Image.new("RGB", (sum(s.width for s in shots), max(s.height for s in shots)), "white")
    left = 0
    for shot in shots:
        whole.paste(shot, (left, 0))
        left += shot.width
    whole.save(ROOT / ".images" / "short-row.png", optimize=True)
    print(f"{len(shots)} pages")


if __name__ == "__main__":
    main()
