"""Pictures as they come: whole, odd and hostile. What is harmless is kept small and upright, what is not ends in one sentence."""

import io
import time
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from studio.errors import BadInputError, KeepingError
from studio.files.picture import LARGEST_FILE, MOST_KEPT, PictureRead, picture_of, read_picture, size_of
from tests.files.pictures import chunk, coded, land, noise, oriented, png


def shown(read: PictureRead) -> Image.Image:
    return Image.open(io.BytesIO(read.data)).convert("RGB")


def colour_at(image: Image.Image, x: float, y: float) -> str:
    pixel = np.asarray(image)[int(y * image.height), int(x * image.width)]
    return ("red", "green", "blue")[int(np.argmax(pixel))] if pixel.max() > 150 else "field"


@pytest.mark.parametrize(("kind", "name"), [("PNG", "a.png"), ("JPEG", "a.jpg")])
def test_a_plain_picture_comes_back_as_it_is(kind: str, name: str) -> None:
    read = picture_of(coded(land(), kind), name)
    assert (read.width_px, read.height_px, read.factor, read.told) == (64, 48, 1.0, ())
    assert size_of(read.data) == (64, 48)
    assert [colour_at(shown(read), x, y) for x, y in ((0.1, 0.1), (0.9, 0.1), (0.1, 0.9))] == [
        "red",
        "green",
        "blue",
    ]


def test_what_is_kept_is_the_smaller_of_png_and_jpeg() -> None:
    assert picture_of(coded(land(400, 300)), "flat.png").data.startswith(b"\x89PNG")
    assert picture_of(coded(noise(400, 300)), "noise.png").data.startswith(b"\xff\xd8")


MODES = ("1", "L", "LA", "P", "RGB", "RGBA", "I;16")


@pytest.mark.parametrize("mode", MODES)
def test_every_kind_of_png_is_read(mode: str) -> None:
    if mode == "I;16":
        image = Image.fromarray(np.linspace(0, 65535, 64 * 48).reshape(48, 64).astype(np.uint16))
    else:
        image = land().quantize(8, dither=Image.Dither.NONE) if mode == "P" else land(mode=mode)
    read = picture_of(coded(image), "a.png")
    assert (read.width_px, read.height_px) == (64, 48)
    values = np.asarray(shown(read)).astype(int)
    if mode == "I;16":  # the upper eight bits
        assert values[0, 0, 0] <= 1
        assert values[-1, -1, 0] >= 254
    else:
        assert np.abs(values - np.asarray(image.convert("RGB"))).mean() < 3


def test_a_see_through_picture_stays_so() -> None:
    image = land(mode="RGBA")
    image.putpixel((5, 5), (0, 0, 0, 0))
    kept = Image.open(io.BytesIO(picture_of(coded(image), "a.png").data))
    assert kept.mode == "RGBA"
    assert kept.getpixel((5, 5)) == (0, 0, 0, 0)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_photograph_stands_upright(orientation: int) -> None:
    """EXIF orientation (CIPA DC-008, Exif 2.32, tag 274), as Pillow's own ImageOps reads it."""
    from PIL import ImageOps

    data = oriented(land(320, 240), orientation)
    read = picture_of(data, "a.jpg")
    wanted = ImageOps.exif_transpose(Image.open(io.BytesIO(data)))
    assert (read.width_px, read.height_px) == (read.from_width_px, read.from_height_px) == wanted.size
    assert np.abs(np.asarray(shown(read)).astype(int) - np.asarray(wanted.convert("RGB"))).mean() < 3
    assert Image.open(io.BytesIO(read.data)).getexif().get(0x0112, 1) == 1
    assert bool(read.told) == (orientation != 1)


def test_print_colours_are_turned_into_a_screens_and_told() -> None:
    read = picture_of(coded(land(mode="CMYK"), "JPEG", quality=95), "a.jpg")
    assert "CMYK" in read.told[0]
    assert colour_at(shown(read), 0.1, 0.1) == "red"


def test_an_animated_png_gives_its_still_picture() -> None:
    data = coded(land(), save_all=True, append_images=[noise(64, 48)], duration=100)
    read = picture_of(data, "a.png")
    assert "animated" in read.told[0]
    assert colour_at(shown(read), 0.1, 0.1) == "red"
    assert b"acTL" not in read.data


def test_texts_and_places_in_a_picture_stay_behind() -> None:
    exif = Image.Exif()
    exif[0x010E] = "a private note"
    for data in (
        coded(land(), "JPEG", exif=exif, comment=b"a private note"),
        png(
            64,
            48,
            data=zlib.compress(bytes((64 * 3 + 1) * 48)),
            more=chunk(b"tEXt", b"Comment\0a private note"),
        ),
    ):
        assert b"private" in data
        assert b"private" not in picture_of(data, "a.png").data


def test_a_wrong_ending_is_told_and_the_content_counts() -> None:
    assert picture_of(coded(land(), "JPEG"), "roof.PNG").told == ("Its name ends in .png, but it is a JPEG.",)


def test_a_large_picture_is_reduced_and_says_by_how_much() -> None:
    read = picture_of(coded(land(8000, 2000)), "a.png")
    assert (read.width_px, read.height_px, read.factor) == (4000, 1000, 2.0)
    assert (read.from_width_px, read.from_height_px) == (8000, 2000)
    assert "reduced to 4000 × 1000 (1 for 2.00)" in read.told[0]


def test_a_large_photograph_is_reduced_too() -> None:
    read = picture_of(oriented(land(6000, 1600), 6), "a.jpg")
    assert (read.from_width_px, read.from_height_px) == (1600, 6000)
    assert read.height_px == 4000
    assert read.factor == pytest.approx(1.5, rel=2e-3)
    assert colour_at(shown(read), 0.9, 0.02) == "red"


def test_what_does_not_compress_is_made_to_fit() -> None:
    read = picture_of(coded(noise(3600, 3000), "JPEG", quality=90), "a.jpg")
    assert len(read.data) <= MOST_KEPT
    assert max(read.width_px, read.height_px) < 3600 or read.told == ()


WHOLE_PNG, WHOLE_JPEG = coded(noise(80, 60)), coded(noise(80, 60), "JPEG")
SCANS = WHOLE_JPEG[:-2] + b"\xff\xda\x00\x08\x01\x01\x00\x00\x3f\x00\x00" * 500 + b"\xff\xd9"
HOSTILE: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "is empty"),
    "text": (b"hello, this is a picture", "no picture that is read here"),
    "gif": (coded(land(), "GIF"), "is GIF"),
    "tiff": (coded(land(), "TIFF"), "is TIFF"),
    "bmp": (coded(land(), "BMP"), "is BMP"),
    "webp": (b"RIFF\x24\0\0\0WEBPVP8 " + bytes(40), "is WebP"),
    "svg": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "is SVG"),
    "pdf": (b"%PDF-1.7\n", "is PDF"),
    "signature alone": (b"\x89PNG\r\n\x1a\n", "breaks off before it tells its size"),
    "jpeg start alone": (b"\xff\xd8\xff\xe0", "breaks off before it tells its size"),
    "png cut in its data": (WHOLE_PNG[: len(WHOLE_PNG) // 2], "damaged or breaks off"),
    "png without its end": (WHOLE_PNG[:-12], "damaged or breaks off"),
    "jpeg cut in its data": (WHOLE_JPEG[: len(WHOLE_JPEG) // 2], "damaged or breaks off"),
    "jpeg cut in its head": (WHOLE_JPEG[:120], "breaks off before it tells its size"),
    "png with a bent byte": (WHOLE_PNG[:60] + b"\0\0\0\0" + WHOLE_PNG[64:], "damaged or breaks off"),
    "png with a chunk beyond the file": (WHOLE_PNG[:33] + b"\x7f\xff\xff\xffIDAT" + bytes(20), "damaged or breaks off"),
    "no width": (png(0, 48), "which is no picture"),
    "one pixel": (coded(land(4, 4).resize((1, 1))), "from 16 on either way"),
    "a line": (png(60_000, 2), "from 16 on either way"),
    "a bomb by its header": (png(65_000, 65_000, data=zlib.compress(bytes(1000))), "at most 60 million"),
    "a bomb that would overflow": (png(2**31 - 1, 2**31 - 1), "at most 60 million"),
    "a small bomb that says it is large": (png(7000, 7000, data=zlib.compress(bytes(1000))), "damaged or breaks off"),
    "data that is no stream": (png(64, 48, data=b"not deflated at all"), "damaged or breaks off"),
    "a photograph of many passes": (SCANS, "more than 64 passes"),
    "a jpeg of another size within": (
        WHOLE_JPEG[:2] + b"\xff\xc0\x00\x11\x08\x00\x40\x00\x40\x03\x01\x11\x00\x02\x11\x00\x03\x11\x00" + WHOLE_JPEG[2:],
        "damaged or breaks off",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", HOSTILE)
def test_what_is_no_harmless_picture_ends_in_one_sentence(case: str) -> None:
    data, words = HOSTILE[case]
    start = time.monotonic()
    with pytest.raises(BadInputError, match=words) as caught:
        picture_of(data, "roof.png")
    assert "\n" not in str(caught.value)
    assert str(caught.value).startswith("roof.png")
    assert time.monotonic() - start < 3.0


def test_a_hidden_bomb_in_a_text_or_profile_is_never_unpacked() -> None:
    bomb = zlib.compress(bytes(80_000_000), 9)
    more = chunk(b"iCCP", b"p\0\0" + bomb) + chunk(b"zTXt", b"k\0\0" + bomb)
    data = png(64, 48, data=zlib.compress(bytes((64 * 3 + 1) * 48)), more=more)
    assert picture_of(data, "a.png").width_px == 64


def test_broken_camera_notes_count_as_upright() -> None:
    whole = oriented(land(), 6)
    at = whole.find(b"Exif\0\0")
    bent = whole[: at + 6] + b"\xff" * 8 + whole[at + 14 :]
    assert picture_of(bent, "a.jpg").orientation == 1


@pytest.mark.parametrize("seed", range(60))
def test_bent_bytes_are_read_or_refused(seed: int) -> None:
    chance = np.random.default_rng(seed)
    data = bytearray(WHOLE_PNG if seed % 2 else WHOLE_JPEG)
    for place in chance.integers(0, len(data), 12):
        data[place] = chance.integers(0, 256)
    try:
        read = picture_of(bytes(data), "a.png")
    except BadInputError as error:
        sentence = str(error)
    else:
        sentence = ""
        assert size_of(read.data) == (read.width_px, read.height_px)
    assert "\n" not in sentence


def test_files_that_cannot_be_read_or_are_too_large(tmp_path: Path) -> None:
    with pytest.raises(KeepingError):
        read_picture(tmp_path / "away.png")
    with pytest.raises(KeepingError):
        read_picture(tmp_path)
    large = tmp_path / "large.png"
    with large.open("wb") as file:
        file.write(WHOLE_PNG)
        file.truncate(LARGEST_FILE + 1)
    with pytest.raises(BadInputError, match="larger than 40 MB"):
        read_picture(large)
    whole = tmp_path / "whole.png"
    whole.write_bytes(WHOLE_PNG)
    assert read_picture(whole).name == "whole.png"
