"""Mutated site files: our own error, or a design that saves, reopens equal and can be assessed.

``STILLFIELD_FULL=1`` runs 2,000 in place of 200 and assesses 200 in place of 12.
"""

import dataclasses
import json
import math
import os
import random
import time
from typing import Any

import pytest

from studio.design.fields import Choice, Count, Quantity
from studio.design.paths import known_fields
from studio.edits.edit import admit
from studio.edits.fields import set_field
from studio.errors import StillfieldError
from studio.files.examples import example_path
from studio.files.site import read_site, write_site
from studio.study.assess import Assessor

FULL = os.environ.get("STILLFIELD_FULL") == "1"
COUNT, ASSESSED = (2000, 200) if FULL else (200, 12)
DATA = example_path("small_dryer").read_bytes()
WRONG: tuple[Any, ...] = (
    None, True, 0, -1, 1, 3.5, 1e9, -1e9, 1e300, 10**17, "", "x", "=1+1", "\u202e", "9" * 300, [], [0.0], [[0, 0]], {},
    {"kind": "file"}, {"kind": "months"}, "sphere", "held", "fixed",
)  # fmt: skip


def bytes_mutated(chance: random.Random) -> bytes:
    data = bytearray(DATA)
    for _turn in range(chance.choice([1, 1, 2, 3, 5, 8])):
        at = chance.randrange(len(data))
        match chance.randrange(5):
            case 0:
                data[at] = chance.randrange(256)
            case 1:
                del data[at : at + chance.randint(1, 200)]
            case 2:
                data[at:at] = data[at : at + chance.randint(1, 200)]
            case 3:
                data[at:at] = chance.choice(
                    [b"[", b"{", b'"', b",", b"NaN", b"-", b"1e999", b"\\ud800", b"\xff"]
                )
            case _:
                data[at] = ord(chance.choice("0123456789.-eE"))
    return bytes(data)


def places(node: Any) -> list[tuple[Any, Any]]:
    """Every (holder, key) of a tree."""
    keys = list(node) if isinstance(node, dict) else list(range(len(node))) if isinstance(node, list) else []
    return [(node, key) for key in keys] + [place for key in keys for place in places(node[key])]


def tree_mutated(chance: random.Random) -> bytes:
    tree = json.loads(DATA)
    for _turn in range(chance.randint(1, 4)):
        holder, key = chance.choice(places(tree["design"]))
        value = holder[key]
        match chance.randrange(6):
            case 0:
                del holder[key]
            case 1 if isinstance(holder, dict):
                holder[f"{key}_"] = value
            case 2 if isinstance(holder, list):
                holder.append(value)
            case 3 if isinstance(value, float | int):
                holder[key] = value * chance.choice([0.0, -1.0, 0.5, 2.0, 10.0, 1 + 1e-12])
            case _:
                holder[key] = chance.choice(WRONG)
        if not tree["design"]:
            break
    return json.dumps(tree).encode()


@pytest.mark.parametrize("mutate", [bytes_mutated, tree_mutated])
def test_a_mutated_file_is_refused_or_saves_and_reopens_equal(mutate: Any) -> None:
    opened = 0
    for seed in range(COUNT // 2):
        data = mutate(random.Random(seed))
        start = time.process_time()
        try:
            document = read_site(data)
        except StillfieldError:
            continue
        finally:
            assert time.process_time() - start < 1.0, seed
        opened += 1
        assert read_site(write_site(document)) == document, seed
    assert 0 < opened < COUNT // 2  # both ways out are taken


def drawn(declaration: Any, value: Any, chance: random.Random) -> Any:
    """A value within the declared limits: at them, anywhere between, zero, or near what stood there."""
    if isinstance(declaration, Choice):
        return chance.choice(list(declaration.words))
    low, high = declaration.low, declaration.high
    near = min(high, max(low, (value or 1) * math.exp(chance.gauss(0.0, 0.8)) * chance.choice([1, 1, 1, -1])))
    drawn_value = chance.choice([low, high, chance.uniform(low, high), min(high, max(low, 0)), near, near])
    return round(drawn_value) if isinstance(declaration, Count) else float(drawn_value)


def test_every_design_that_opens_can_be_assessed_with_whole_numbers() -> None:
    """Only our own errors leave an assessment, no figure is NaN, no loss is a gain, and the staircase adds up."""
    document = read_site(DATA)
    first, second = (dataclasses.replace(line, count=2) for line in document.design.lines[:2])
    second = dataclasses.replace(second, tilt_deg=30.0, facing_deg=170.0, stands_at_m=1.0)
    base = dataclasses.replace(document.design, lines=(first, second))
    fields = [
        field for field in known_fields(base)
        # long lines and mirrors of many rays are slow, not wrong
        if isinstance(field.declaration, Quantity | Count | Choice) and not field.path.endswith((".count", "focal_m"))
    ]  # fmt: skip
    sections = sorted({field.path.split(".")[0] for field in fields})
    assessor = Assessor()
    for seed in range(ASSESSED):
        chance = random.Random(seed)
        design, tried = base, []
        for _turn in range(chance.randint(1, 6)):
            section = chance.choice(sections)
            field = chance.choice([one for one in fields if one.path.split(".")[0] == section])
            value = drawn(field.declaration, field.value, chance)
            try:
                design = admit(design, set_field(design, path=field.path, value=value)).design
            except StillfieldError:
                continue
            tried.append((field.path, value))
        assessment = assessor.assess(dataclasses.replace(document, design=design))
        figures = assessment.figures.values()
        assert all(value is None or math.isfinite(value) for value in figures), tried
        steps = assessment.staircase
        assert all(step.kwh >= -1e-6 if step.landing else step.kwh <= 1e-6 for step in steps), tried
        losses = sum(step.kwh for step in steps if not step.landing)
        assert steps[0].kwh + losses == pytest.approx(steps[-1].kwh, abs=1e-6 * max(1.0, steps[0].kwh)), tried
