"""The site file: all faults at once and in our words, versions, assets, odd JSON, and its schema."""

import dataclasses
import json
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from studio.design.design import Design, Document, Kept
from studio.design.obstacles import Block, Horizon, Pole, Tree
from studio.design.site import FileWeather
from studio.engine.sky.kept_year import pack_weather
from studio.engine.sky.year import WeatherYear
from studio.errors import FaultyFileError, KeepingError
from studio.files.examples import FOLDER, copy_example, example_names, example_path
from studio.files.site import (
    VERSION,
    document_from_tree,
    json_schema,
    open_site,
    read_site,
    upgraded,
    write_site,
)
from studio.keep import fingerprint
from studio.study.place import form_of

STORED = Path(__file__).parent / "stored"
EXAMPLE = example_path("small_dryer").read_bytes()
MB = 1_000_000


def tree() -> dict[str, Any]:
    made = json.loads(EXAMPLE)
    assert isinstance(made, dict)
    return made


def changed(change: Callable[[dict[str, Any]], object]) -> bytes:
    made = tree()
    change(made)
    return json.dumps(made).encode()


def faults_of(data: bytes) -> dict[str, str]:
    """Path and the rest of each fault."""
    with pytest.raises(FaultyFileError) as caught:
        read_site(data)
    return {fault.path: f"{fault.name}|{fault.found}|{fault.wanted}" for fault in caught.value.faults}


def with_year() -> Document:
    """The example with a kept year of invented weather."""
    hours = np.arange(8760) % 24
    year = WeatherYear(
        dni_w_m2=np.where((hours > 6) & (hours < 18), 500.0, 0.0),
        air_c=np.full(8760, 20.0),
        wind_m_s=np.full(8760, 2.0),
    )
    data = pack_weather(year)
    document = read_site(EXAMPLE)
    site = dataclasses.replace(document.design.site, weather=FileWeather(asset=fingerprint(data)))
    design = dataclasses.replace(document.design, site=site)
    return Document(design=design, assets=((fingerprint(data), data),))


@pytest.mark.parametrize("name", example_names())
def test_every_example_opens_and_is_written_back_as_it_stands(name: str) -> None:
    data = example_path(name).read_bytes()
    assert write_site(read_site(data)) == data


@pytest.mark.parametrize("version", range(1, VERSION + 1))
def test_a_stored_file_of_every_past_version_opens(version: int) -> None:
    document = open_site(STORED / f"version_{version}.stillfield")
    assert len(document.design.lines) == 3
    assert document.kept is not None
    assert [line.id for line in document.kept.design.lines] == [1]
    assert document.drafts[0].label == "draft"
    assert read_site(write_site(document)) == document


def test_what_an_old_file_did_not_say_leaves_its_mirrors_as_they_were() -> None:
    document = open_site(STORED / "version_1.stillfield")
    for design in (document.design, document.drafts[0].design):
        form = form_of(design.mirror)
        assert (form.tension_ratio, form.pressure_per_m, form.rib_places_m) == (0.0, 0.0, ())
        assert (design.motion.arm_lean_deg, design.motion.spaced_for, design.shelf) == (0.0, "hot", ())


def test_document_with_year_and_kept_comes_back_equal_and_unused_assets_stay_behind() -> None:
    document = with_year()
    document = dataclasses.replace(document, kept=Kept(Design(), "empty", "2026-02-03"))
    assert read_site(write_site(document)) == document
    spare = b"nobody points at this"
    more = dataclasses.replace(document, assets=(*document.assets, (fingerprint(spare), spare)))
    assert write_site(more) == write_site(document)


def test_all_faults_at_once_single_and_between_fields() -> None:
    def spoil(made: dict[str, Any]) -> None:
        design = made["design"]
        design["lines"][2]["count"] = 4000
        design["lines"][1]["id"] = 1
        design["mirror"]["ribs"] = "eleven"
        design["mirror"]["colour"] = "red"
        del design["receiver"]["fins"]
        design["lines"][0]["x_m"] = None
        del design["lines"][0]["y_m"]
        design["motion"]["roll_from_deg"], design["motion"]["roll_to_deg"] = 20.0, 10.0
        design["plot"]["boundary"] = [[0, 0], [10, 10], [10, 0], [0, 10]]
        made["kept"] = {"design": {"oil": {"inlet_c": 290.0, "outlet_c": 220.0}}, "labl": "x"}
        made["extra"] = 1

    found = faults_of(changed(spoil))
    assert found["$.design.lines[2].count"] == (
        "Line 3, mirrors|4000|a whole number from 1 to 400 would be right"
    )
    assert "second line with this number" in found["$.design.lines[1].id"]
    assert found["$.design.mirror.ribs"].startswith("Mirror, ribs|'eleven'|a whole number from 2 to 60")
    assert found["$.design.mirror.colour"].startswith("colour|'red'|there is no such field")
    assert "nothing|this field must be there" in found["$.design.lines[0].y_m"]
    assert "null|a number" in found["$.design.lines[0].x_m"]
    assert "20 … 10" in found["$.design.motion.roll_to_deg"]
    assert "edges cross" in found["$.design.plot.boundary"]
    assert "290 … 220" in found["$.kept.design.oil.outlet_c"]
    assert "not known" in found["$.kept.labl"]
    assert "not known" in found["$.extra"]
    assert len(found) == 11  # the missing count of fins takes its default


def test_a_fault_is_told_with_path_name_found_and_wanted_in_one_line() -> None:
    with pytest.raises(FaultyFileError) as caught:
        read_site(changed(lambda made: made["design"]["lines"][2].update(count=4000)))
    assert str(caught.value).splitlines() == [
        "The site file has 1 fault and was not opened.",
        "  Line 3, mirrors ($.design.lines[2].count): found 4000; a whole number from 1 to 400 would be right",
    ]


@pytest.mark.parametrize("section", ["site", "plot", "mirror", "lines", "oil", "header"])
@pytest.mark.parametrize("value", [None, True, "x", 1e12, -5, [1, 2], {"a": 1}])
def test_no_word_of_the_validator_reaches_a_person(section: str, value: object) -> None:
    with pytest.raises(FaultyFileError) as caught:
        read_site(changed(lambda made: made["design"].update({section: value})))
    for word in ("Input should", "pydantic", "dataclass", "valid integer", "Traceback"):
        assert word not in str(caught.value)


def test_an_asset_that_is_missing_or_damaged_is_told_at_its_path() -> None:
    document = with_year()
    made = json.loads(write_site(document))
    name = next(iter(made["assets"]))
    made["kept"] = {"design": made["design"]}
    lost = faults_of(json.dumps({**made, "assets": {}}).encode())
    assert set(lost) == {"$.design.site.weather.asset", "$.kept.design.site.weather.asset"}
    bent = faults_of(json.dumps({**made, "assets": {name: "AAAA"}}).encode())
    assert f"$.assets.{name}" in bent
    # found even where something else in the design is wrong
    del made["kept"]
    made["design"]["mirror"]["ribs"] = 0
    both = faults_of(json.dumps({**made, "assets": {}}).encode())
    assert set(both) == {"$.design.mirror.ribs", "$.design.site.weather.asset"}


def test_an_asset_that_is_no_weather_year_is_refused() -> None:
    data = b"stillfield weather 1\nno year"
    made = json.loads(write_site(with_year()))
    made["design"]["site"]["weather"]["asset"] = fingerprint(data)
    made["assets"] = {fingerprint(data): "c3RpbGxmaWVsZCB3ZWF0aGVyIDEKbm8geWVhcg=="}
    assert "damaged" in faults_of(json.dumps(made).encode())["$.design.site.weather.asset"]


def test_a_newer_version_is_refused_in_one_sentence() -> None:
    with pytest.raises(FaultyFileError, match=r"newer Stillfield \(file version 9\).*nothing was changed"):
        read_site(changed(lambda made: made.update(version=9)))


@pytest.mark.parametrize("version", [None, True, "1", 0, -1, 1.5, []])
def test_a_version_that_is_none_is_refused(version: object) -> None:
    with pytest.raises(FaultyFileError, match="does not say its version"):
        read_site(changed(lambda made: made.update(version=version)))


def test_an_older_file_passes_every_step_of_the_chain_in_order() -> None:
    steps = {
        1: lambda made: {**made, "was": [1]},
        2: lambda made: {**made, "was": [*made["was"], 2]},
        3: lambda made: {**made, "was": [*made["was"], 3]},
    }
    old = {"format": "stillfield site", "version": 1}
    new = upgraded(old, version=4, upgrades=steps)
    assert (new["version"], new["was"]) == (4, [1, 2, 3])
    assert old == {"format": "stillfield site", "version": 1}
    assert upgraded({**old, "version": 3, "was": []}, version=4, upgrades=steps)["was"] == [3]
    with pytest.raises(FaultyFileError, match="of version 2 but is not built like one"):
        upgraded({**old, "version": 2}, version=4, upgrades=steps)


def with_lines(lines: object) -> bytes:
    return changed(lambda made: made["design"].update(lines=lines))


ODD: dict[str, tuple[bytes, str]] = {
    "duplicate key": (b'{"format": 1, "format": 2}', "'format' stands twice"),
    "NaN": (b'{"a": NaN}', "NaN"),
    "Infinity": (b'{"a": -Infinity}', "-Infinity"),
    "1e999": (b'{"a": 1e999}', "too large"),
    "lone surrogate": (b'["\\ud800"]', "half a character"),
    "lone surrogate in a key": (b'{"\\udfff": 1}', "half a character"),
    "brackets": (b"[" * 100_000, "nests deeper"),
    "all brackets": (b"[" * 16 * MB, "nests deeper"),
    "5,000 digits": (b'{"a": ' + b"9" * 5000 + b"}", "5000 digits"),
    "digits and a point": (b'{"a": ' + b"9" * MB + b".5}", "characters"),
    "17 MB": (b" " * 17 * MB, "at most 16 MB"),
    "16 MB of nothing": (b" " * 16 * MB, "not JSON"),
    "a million values": (b"[" + b"1," * 999_999 + b"1]", "values"),
    "quotes": (b'"' * 16 * MB, "values"),
    "an open string of escapes": (b'"' + b"\\\\" * 7 * MB, "not JSON"),
    "long text": (changed(lambda made: made["design"]["site"].update(name="x" * 15 * MB)), "200 characters"),
    "many lines": (with_lines([1] * 140_000), "a list of 140000"),
    "many faults": (with_lines([{"id": "a", "x_m": "b"}] * 1000), "faults more"),
    "many fields": (changed(lambda made: made["design"].update({f"k{n}": 0 for n in range(99_999)})), "fields"),
    "many fields outside": (changed(lambda made: made.update({f"k{n}": 0 for n in range(99_999)})), "99999 fields"),
    "many drafts": (changed(lambda made: made.update(drafts=[{"design": {}}] * 40_000)), "a list of 40000"),
    "many assets": (changed(lambda made: made.update(assets={f"k{n}": "" for n in range(99_999)})), "99999"),
    "not UTF-8": (b"\xff\xfe{}", "UTF-8"),
    "nothing": (b"", "not JSON"),
    "cut off": (EXAMPLE[:2000], "breaks off"),
    "another JSON": (b'{"type": "FeatureCollection"}', "not a Stillfield site file"),
}  # fmt: skip


@pytest.mark.parametrize("name", ODD)
def test_odd_json_ends_in_our_own_error_in_time_and_memory(name: str) -> None:
    data, said = ODD[name]
    before, start = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
    with pytest.raises(FaultyFileError) as caught:
        read_site(data)
    took = time.process_time() - start
    unit = 1 if sys.platform == "darwin" else 1024
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) * unit
    assert said in str(caught.value)
    assert len(caught.value.summary) < 300
    assert took < 1.0
    assert grown < 200 * MB


def test_a_file_that_is_not_there_or_too_large(tmp_path: Path) -> None:
    with pytest.raises(KeepingError):
        open_site(tmp_path / "none.stillfield")
    large = tmp_path / "large.stillfield"
    large.write_bytes(b" " * 17 * MB)
    with pytest.raises(FaultyFileError, match="at most 16 MB"):
        open_site(large)


def test_schema_is_2020_12_takes_the_examples_and_refuses_an_unknown_field() -> None:
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for name in example_names():
        validator.validate(json.loads(example_path(name).read_bytes()))
    validator.validate(json.loads(write_site(with_year())))
    spoils: tuple[Callable[[dict[str, Any]], object], ...] = (
        lambda made: made.update(extra=1),
        lambda made: made["design"].update(extra=1),
        lambda made: made["design"]["lines"][0].update(extra=1),
        lambda made: made["design"]["mirror"].update(ribs=1),
        lambda made: made["design"]["site"]["weather"].update(kind="guess"),
    )
    for spoil in spoils:
        made = tree()
        spoil(made)
        assert not validator.is_valid(made)
    ribs = schema["$defs"]["Mirror"]["properties"]["ribs"]
    assert (ribs["title"], ribs["minimum"], ribs["maximum"]) == ("ribs", 2, 60)


def test_examples_are_copied_and_nothing_is_overwritten(tmp_path: Path) -> None:
    made = copy_example("small_dryer", tmp_path)
    assert made.read_bytes() == (FOLDER / "small_dryer.stillfield").read_bytes()
    with pytest.raises(Exception, match="nothing was overwritten"):
        copy_example("small_dryer", tmp_path)
    with pytest.raises(Exception, match="would be small_dryer"):
        copy_example("smal_drier", tmp_path)


def test_the_tree_itself_is_not_changed_by_reading() -> None:
    made = tree()
    document_from_tree(made)
    assert made == tree()


def test_a_file_from_before_obstacles_has_none_and_a_level_skyline() -> None:
    for version in (1, 2):
        document = open_site(STORED / f"version_{version}.stillfield")
        assert document.kept is not None
        for design in (document.design, document.kept.design, document.drafts[0].design):
            assert (design.obstacles, design.horizon, design.marks.obstacle_limit) == ((), Horizon(), 0.05)


def test_obstacles_of_every_kind_and_the_skyline_come_back() -> None:
    design = open_site(STORED / "version_3.stillfield").design
    assert [type(one) for one in design.obstacles] == [Block, Tree, Pole]
    assert len(design.horizon.skyline) == 4


def test_places_left_out_are_kept_and_old_lines_have_none() -> None:
    lines = open_site(STORED / "version_4.stillfield").design.lines
    assert [line.left_out for line in lines] == [(), (6, 7, 12), ()]
    assert lines[1].mirrors == lines[1].count - 3
    for version in range(1, 4):
        document = open_site(STORED / f"version_{version}.stillfield")
        designs = [document.design, document.drafts[0].design]
        assert all(line.left_out == () for design in designs for line in design.lines)


@pytest.mark.parametrize(
    ("left_out", "said"),
    [
        ([3], "shorten the line instead"),
        ([7, 6], "let the numbers rise"),
        ([6, 90], "numbers of its own mirrors"),
        ([6.5], "whole numbers"),
        ("6, 7", "whole numbers"),
        (list(range(4, 900)), "whole numbers"),
    ],
)
def test_places_that_cannot_be_left_out_are_told(left_out: Any, said: str) -> None:
    tree = json.loads((STORED / "version_4.stillfield").read_bytes())
    tree["design"]["lines"][1]["left_out"] = left_out
    with pytest.raises(FaultyFileError, match=said):
        read_site(json.dumps(tree).encode())
