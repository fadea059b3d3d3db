"""Draws README's gallery: the ruler of every shipped protocol. Run: python tests/pictures/gallery.py"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from planner.documents.ruler import visit_picture
from planner.protocol.read import read_protocol
from planner.timing.forecast import forecast
from planner.timing.lay_out import lay_out

ROOT = Path(__file__).parents[2]
SHARE = Decimal("0.8")


def main() -> None:
    """Write an SVG for each protocol into .images/protocols."""
    target = ROOT / ".images" / "protocols"
    target.mkdir(parents=True, exist_ok=True)
    for file in sorted((ROOT / "protocols").glob("*.yaml")):
        protocol = read_protocol(file)
        picture = visit_picture(lay_out(protocol, SHARE), forecast(protocol, SHARE))
        (target / f"{file.stem}.svg").write_text(picture.svg(), encoding="utf-8")
        print(f"{file.stem}: {picture.words.split('.')[0]}")


if __name__ == "__main__":
    main()
