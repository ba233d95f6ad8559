"""Takes the picture of a page that the README shows: python -m tests.results.page.shoot PAGE.html OUT.png."""

from __future__ import annotations

import io
import sys
from pathlib import Path

from PIL import Image

from tests.results.page.browser import MISSING, Opened, chromium, opened, running

SIZE = (1280, 1010)


def main(page: Path, out: Path) -> int:
    """Open the page, brush the steadiest designs, write what is seen."""
    path = chromium()
    if path is None:
        print(MISSING, file=sys.stderr)
        return 2
    with running(path) as browser, opened(browser, page, size=SIZE) as shown:
        _brush(shown)
        picture = Image.open(io.BytesIO(shown.page.screenshot()))
    few = picture.convert("RGB").quantize(256, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
    few.save(out, optimize=True)
    print(f"{out}: {out.stat().st_size / 1000:.0f} kB")
    return 0


def _brush(shown: Opened) -> None:
    """Drag over the left of the third picture: what is steady, dear or cheap."""
    box = shown.page.locator("#pair-2").bounding_box()
    if box is None:
        return
    mouse = shown.page.mouse
    mouse.move(box["x"] + 0.22 * box["width"], box["y"] + 0.05 * box["height"])
    mouse.down()
    mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.8 * box["height"], steps=8)
    mouse.up()
    mouse.move(5, 5)
    shown.page.wait_for_timeout(500)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2])))
