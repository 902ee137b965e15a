"""The example sites that come with the studio: invented places, invented sums, invented prices."""

import difflib
from pathlib import Path

import studio
from studio.errors import BadInputError
from studio.files.site import ENDING
from studio.keep import write_whole
from studio.text import _

FOLDER = Path(studio.__file__).resolve().parent.parent / "example_sites"
FIRST = "small_dryer"
"""What the desk opens at its first start."""


def example_names() -> tuple[str, ...]:
    """Names of the example sites."""
    return tuple(sorted(path.stem for path in FOLDER.glob(f"*{ENDING}")))


def example_path(name: str) -> Path:
    """The site file of an example; BadInputError that names the nearest when there is none of this name."""
    stem = name.removesuffix(ENDING)
    if stem in example_names():
        return FOLDER / f"{stem}{ENDING}"
    near = difflib.get_close_matches(stem, example_names(), n=1, cutoff=0.3)
    wanted = near or list(example_names())
    raise BadInputError(
        _("There is no example '{name}'; it would be {names}.").format(
            name=name, names=_(" or ").join(wanted)
        )
    )


def copy_example(name: str, into: Path) -> Path:
    """Copy an example into a folder under its own name; nothing is overwritten."""
    source = example_path(name)
    target = into / source.name
    if target.exists():
        raise BadInputError(
            _("{path} is there already; move it away first, nothing was overwritten.").format(path=target)
        )
    write_whole(target, source.read_bytes(), backup=False)
    return target
