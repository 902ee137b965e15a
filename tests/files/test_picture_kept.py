"""A picture in the site file: kept once, found again, and told where it is missing or none."""

import dataclasses
import json

import jsonschema
import pytest

from studio.design.design import Design, Document, Kept
from studio.errors import BadInputError, FaultyFileError
from studio.files.picture import PictureRead, picture_of
from studio.files.picture_taken import with_picture
from studio.files.picture_world import Placement
from studio.files.site import json_schema, read_site, write_site
from studio.keep import fingerprint
from tests.files.pictures import coded, land, noise, png

ROOF = picture_of(coded(land(), "PNG"), "roof.png")
PLACE = Placement(10.0, 20.0, 0.25, 30.0)


def laid(picture: PictureRead = ROOF, document: Document | None = None) -> Document:
    return with_picture(document or Document(design=Design()), picture, PLACE)


def faults_of(data: bytes) -> dict[str, str]:
    with pytest.raises(FaultyFileError) as caught:
        read_site(data)
    return {fault.path: f"{fault.name}|{fault.found}|{fault.wanted}" for fault in caught.value.faults}


def test_a_picture_comes_back_with_where_it_lies() -> None:
    document = laid()
    again = read_site(write_site(document))
    assert again == document
    underlay = again.design.underlay
    assert again.asset(underlay.asset) == ROOF.data
    assert (underlay.x_m, underlay.y_m, underlay.m_per_pixel, underlay.turned_deg) == (10.0, 20.0, 0.25, 30.0)
    assert underlay.origin == "roof.png, 64 × 48 pixels"
    jsonschema.Draft202012Validator(json_schema()).validate(json.loads(write_site(document)))


def test_the_picture_of_what_was_kept_stays_and_an_unused_one_goes() -> None:
    first = laid()
    kept = dataclasses.replace(first, kept=Kept(first.design, "before", "2026-02-03"))
    other = picture_of(coded(land(80, 60)), "other.png")
    both = laid(other, kept)
    assert {name for name, _data in both.assets} == {fingerprint(ROOF.data), fingerprint(other.data)}
    assert read_site(write_site(both)) == both
    alone = laid(other, first)
    assert [name for name, _data in alone.assets] == [fingerprint(other.data)]


def test_a_picture_that_is_missing_or_none_is_told_at_its_path() -> None:
    made = json.loads(write_site(laid()))
    name = made["design"]["underlay"]["asset"]
    lost = faults_of(json.dumps({**made, "assets": {}}).encode())
    assert list(lost) == ["$.design.underlay.asset"]
    assert lost["$.design.underlay.asset"].startswith(
        "Picture underlay, kept picture|no such asset in the file"
    )
    bent = faults_of(json.dumps({**made, "assets": {name: "AAAA"}}).encode())
    assert set(bent) == {f"$.assets.{name}", "$.design.underlay.asset"}


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"stillfield weather 1\nno year", "no picture that is read here"),
        (png(5000, 100), "at most 4000"),
        (coded(land(), "JPEG")[:-2] + b"\xff\xda" * 70, "more than 64 passes"),
    ],
)
def test_an_asset_that_is_no_picture_to_keep_is_refused(data: bytes, words: str) -> None:
    import base64

    made = json.loads(write_site(laid()))
    name = fingerprint(data)
    made["design"]["underlay"]["asset"] = name
    made["assets"] = {name: base64.b64encode(data).decode()}
    assert words in faults_of(json.dumps(made).encode())["$.design.underlay.asset"]


def test_a_file_that_would_be_too_large_to_open_again_is_not_written() -> None:
    """Three pictures of the largest size that is kept go into a site file, a fourth does not."""
    document, design = Document(design=Design()), Design()
    for turn in range(4):
        data = coded(noise(1300 + turn, 850))  # some 3.3 MB each, which do not compress
        assert len(data) < 3_500_000
        underlay = dataclasses.replace(design.underlay, asset=fingerprint(data))
        held = Kept(dataclasses.replace(design, underlay=underlay))
        document = dataclasses.replace(
            document, drafts=(*document.drafts, held), assets=(*document.assets, (fingerprint(data), data))
        )
        if turn < 3:
            assert len(read_site(write_site(document)).drafts) == turn + 1
    with pytest.raises(BadInputError, match="at most 16 MB are read again"):
        write_site(document)
