"""The validator built from the declarations, against pydantic's own reading of the same classes."""

import copy
import json
import math
import random
from collections.abc import Iterator
from typing import Any

import pytest
from pydantic import TypeAdapter
from pydantic_core import ValidationError

from studio.design.design import Design
from studio.design.schema import Adapter
from studio.design.validate import adapter
from studio.files.examples import example_names, example_path
from studio.files.site import upgraded

JUDGE = TypeAdapter(Design)
WRONG: tuple[Any, ...] = (
    None, True, 7, -3, 1e12, math.nan, math.inf, "7", "no\nline", "x" * 30_000, [], [1.0], [1.0, 2.0, 3.0], {}, {"kind": "pole"},
    {"kind": "guess"}, {"x": 1},
)  # fmt: skip
SPOILT = 1500


def trees() -> dict[str, Any]:
    return {name: upgraded(json.loads(example_path(name).read_bytes()))["design"] for name in example_names()}


def places(tree: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place in a tree, the first three of a list."""
    if path:
        yield path
    inside = tree.items() if isinstance(tree, dict) else enumerate(tree[:3]) if isinstance(tree, list) else ()
    for key, part in inside:
        yield from places(part, (*path, key))


def told(judge: Any, tree: Any) -> Any:
    """What a validator makes of a tree: the design, or each fault's kind and place."""
    try:
        return judge.validate_python(tree)
    except ValidationError as error:
        return [(one["type"], one["loc"], str(one["input"])) for one in error.errors(include_url=False)]


@pytest.mark.parametrize("name", example_names())
def test_an_example_is_read_and_written_as_by_pydantic(name: str) -> None:
    tree = trees()[name]
    design = adapter().validate_python(tree)
    assert design == JUDGE.validate_python(tree)
    assert adapter().dump_python(design, mode="json") == JUDGE.dump_python(design, mode="json")
    assert adapter().dump_python(design) == JUDGE.dump_python(design)


def test_a_spoilt_tree_has_the_faults_that_pydantic_finds() -> None:
    rng, all_trees, faulty = random.Random(5), trees(), 0
    spots = {name: list(places(tree)) for name, tree in all_trees.items()}
    for _turn in range(SPOILT):
        name = rng.choice(sorted(all_trees))
        tree = copy.deepcopy(all_trees[name])
        *way, last = rng.choice(spots[name])
        part = tree
        for step in way:
            part = part[step]
        if isinstance(part, dict) and rng.random() < 0.2:
            part["unknown"] = part.pop(last)
        else:
            part[last] = rng.choice(WRONG)
        ours = told(adapter(), tree)
        assert ours == told(JUDGE, tree), (name, way, last)
        faulty += isinstance(ours, list)
    assert faulty > SPOILT / 2


def test_a_type_that_declares_nothing_is_refused_at_once() -> None:
    with pytest.raises(TypeError, match="cannot be declared as"):
        Adapter(dict[str, float]).validate_python({})
