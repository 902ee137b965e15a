"""Copies on the clipboard: whole there and back, and hostile ones refused in one sentence."""

import json
import random

import pytest

from studio.design.design import Design
from studio.design.field import Line
from studio.design.obstacles import Block, Fence, Pole, Tree
from studio.design.site import NoBuild, Plot
from studio.edits.together import Things
from studio.errors import BadInputError
from studio.files.clip import Copied, clip_bytes, clip_text, copied_of, read_clip

RING = ((2.0, 20.0), (9.0, 21.0), (8.0, 26.0))
DESIGN = Design(
    plot=Plot(no_build=(NoBuild(name="=cmd  well", ring=RING),)),
    obstacles=(
        Block(name="shed", ring=RING),
        Tree(place=(1 / 3, 2.0), height_m=7.25),
        Pole(),
        Fence(path=RING),
    ),
    lines=(
        Line(id=4, x_m=0.1, y_m=0.2, azimuth_deg=33.3, count=12, tilt_deg=41.0),
        Line(id=9, x_m=5.0, y_m=6.0),
    ),
)
THINGS = Things((4, 9), (0,), (0, 1, 2, 3))
WHOLE = clip_bytes(copied_of(DESIGN, THINGS))


def test_a_copy_comes_back_as_it_went() -> None:
    assert read_clip(WHOLE) == Copied(DESIGN.lines, DESIGN.plot.no_build, DESIGN.obstacles)
    assert len(copied_of(DESIGN, Things(boundary=True, store=True))) == 0


def test_the_table_gives_a_spreadsheet_its_coordinates() -> None:
    rows = [row.split("\t") for row in clip_text(DESIGN, copied_of(DESIGN, THINGS)).splitlines()]
    assert rows[0] == ["what", "name", "corner", "x m", "y m"]
    assert {len(row) for row in rows} == {5}
    assert rows[1] == ["line", "Line 4", "1", "0.1000", "0.2000"]
    assert len(rows) == 1 + 2 * 2 + 3 + 3 + 1 + 1 + 3
    assert [float(part) for part in rows[5][3:]] == [2.0, 20.0]
    assert rows[5][1] == "'=cmd well", "a name is no formula and no line of its own"


def _tree(**changes: object) -> bytes:
    return json.dumps(json.loads(WHOLE) | changes).encode()


LINE = json.loads(WHOLE)["lines"][0]
AREA = json.loads(WHOLE)["no_build"][0]
HOSTILE = [
    b"", b"{", b"null", b"[]", b"\xff\xfe\x00", b"[" * 100_000, b'{"stillfield_things": 1}', b'{"stillfield_things": 2}',
    b'{"stillfield_things": 1, "lines": 7}', b'{"stillfield_things": 1, "lines": [], "lines": []}',
    b'{"stillfield_things": 1, "lines": [' + b"1," * 500_000 + b"1]}", b" " * 9_000_000,
    _tree(lines=[LINE | {"count": 10**9}]), _tree(lines=[LINE | {"x_m": "1"}]), _tree(lines=[LINE | {"x_m": None}]),
    _tree(lines=[LINE | {"spacing_m": -1}]), _tree(lines=[LINE | {"more": 1}]), _tree(lines=[LINE, LINE]),
    WHOLE.replace(b"33.3", b"NaN"), WHOLE.replace(b"33.3", b"1e999"), WHOLE.replace(b"33.3", b"9" * 5000),
    _tree(no_build=[AREA | {"ring": []}]), _tree(no_build=[AREA | {"ring": [[0, 0], [1, 1]]}]),
    _tree(no_build=[AREA | {"ring": [[0, 0], [4, 4], [4, 0], [0, 4]]}]), _tree(no_build=[AREA | {"name": "x" * 100_000}]),
    _tree(obstacles=[{"kind": "fence", "path": [[0, 0]]}]), _tree(obstacles=[{"kind": "bomb"}]), _tree(obstacles=[{}]), _tree(prices={"film": 1}), _tree(lines={"a": 1}),
]  # fmt: skip


@pytest.mark.parametrize("data", HOSTILE, ids=range(len(HOSTILE)))
def test_what_is_hostile_gets_one_sentence(data: bytes) -> None:
    with pytest.raises(BadInputError) as told:
        read_clip(data)
    said = str(told.value)
    assert said.startswith("Nothing was pasted:")
    assert len(said) < 320
    assert said.isprintable()


def test_a_copy_that_was_tampered_with_never_breaks_anything() -> None:
    draw = random.Random(4)
    for _turn in range(300):
        data = bytearray(WHOLE)
        for _change in range(draw.randint(1, 6)):
            data[draw.randrange(len(data))] = draw.randrange(256)
        said = ""
        try:
            copied = read_clip(bytes(data))
        except BadInputError as error:
            said = str(error)
        assert said.startswith("Nothing was pasted:") if said else len(copied)
