"""Letters beside their points: none covers another or is cut by the frame as long as there is room."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from boilerfront.results.page.placing import BESIDE_PX, LETTER_PX, places_px

FRAME = (215.0, 270.0)
POINTS = st.tuples(st.floats(10.0, 205.0), st.floats(15.0, 255.0))


def test_a_letter_alone_stands_right_above_its_point() -> None:
    assert places_px([(100.0, 100.0)], FRAME) == [BESIDE_PX[0]]
    assert places_px([], FRAME) == []


@given(st.lists(POINTS, max_size=4))
def test_no_letter_covers_another_or_leaves_the_frame(points: list[tuple[float, float]]) -> None:
    corners = [(x + dx, y + dy) for (x, y), (dx, dy) in zip(points, places_px(points, FRAME), strict=True)]
    for k, (x, y) in enumerate(corners):
        assert 0.0 <= x <= FRAME[0] - LETTER_PX[0]
        assert LETTER_PX[1] <= y <= FRAME[1]
        for other_x, other_y in corners[:k]:
            assert abs(x - other_x) >= LETTER_PX[0] or abs(y - other_y) >= LETTER_PX[1]


def test_designs_at_one_point_have_their_letters_around_it() -> None:
    places = places_px([(100.0, 100.0)] * len(BESIDE_PX), FRAME)
    assert len(set(places)) == len(BESIDE_PX)
