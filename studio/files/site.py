"""The site file: ``{format, version, design, kept, drafts, assets}``, JSON that opens the same anywhere.

Assets stand once under their sha256, compact and capped. Every fault of a bad file is reported at once; a newer version
is refused; an older one passes a chain of functions on the plain tree.
"""

import base64
import binascii
import json
import re
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from studio.design.design import Design, Document, Kept
from studio.design.site import FileWeather
from studio.design.validate import MOST_FAULTS, design_from_tree, shown, tree_of
from studio.errors import BadInputError, Fault, FaultyFileError
from studio.files.raw_json import LARGEST, parse
from studio.files.upgrades import UPGRADES
from studio.keep import doing, fingerprint
from studio.text import _, plural

FORMAT = "stillfield site"
VERSION = 4
ENDING = ".stillfield"
LARGEST_ASSET = 4_000_000
MOST_DRAFTS, MOST_ASSETS = 20, 40
_MEMBERS = ("format", "version", "design", "kept", "drafts", "assets")
_NUMBERS_IN_LINES = re.compile(r"\[\n([-+0-9.eE,\s]+?)\n\s*\]")

Tree = dict[str, Any]


def used_assets(document: Document) -> tuple[tuple[str, bytes], ...]:
    """The assets that the design, what was kept or a draft points at; others need not be written."""
    designs = [document.design, *(draft.design for draft in document.drafts)]
    designs += [document.kept.design] if document.kept else []
    weathers = (design.site.weather for design in designs)
    used = {weather.asset for weather in weathers if isinstance(weather, FileWeather)}
    used |= {design.underlay.asset for design in designs}
    return tuple((name, data) for name, data in document.assets if name in used)


def write_site(document: Document) -> bytes:
    """A document as the bytes of its site file, defaults written out, without assets that nothing uses.

    Raises BadInputError where the file would be larger than one that is read.
    """
    tree = {
        "format": FORMAT,
        "version": VERSION,
        "design": tree_of(document.design),
        "kept": _kept_tree(document.kept) if document.kept else None,
        "drafts": [_kept_tree(draft) for draft in document.drafts],
        "assets": {name: base64.b64encode(data).decode("ascii") for name, data in used_assets(document)},
    }
    text = json.dumps(tree, indent=1, ensure_ascii=False, allow_nan=False)
    text = _NUMBERS_IN_LINES.sub(lambda found: "[" + " ".join(found.group(1).split()) + "]", text)
    data = (text + "\n").encode("utf-8")
    if len(data) > LARGEST:
        raise BadInputError(
            _(
                "The site file would have {size} MB, at most {most} MB are read again; take pictures out of what was kept "
                "and out of drafts, or use smaller ones."
            ).format(size=len(data) // 1_000_000 + 1, most=LARGEST // 1_000_000)
        )
    return data


def read_site(data: bytes) -> Document:
    """The document that a site file's bytes hold.

    Raises FaultyFileError with every fault at once, each with its path in the file, the name a person knows, what was
    found and what would be right.
    """
    return document_from_tree(upgraded(parse(data)))


def open_site(path: Path) -> Document:
    """The document of a site file on the disk, without taking its lock.

    Raises KeepingError where the file cannot be read, FaultyFileError where it is no whole site file.
    """
    with doing(_("read"), path):
        data = path.read_bytes() if path.stat().st_size <= LARGEST else b" " * (LARGEST + 1)
    return read_site(data)


def upgraded(
    tree: Any, *, version: int = VERSION, upgrades: Mapping[int, Callable[[Tree], Tree]] = UPGRADES
) -> Tree:
    """The tree of a whole file in the current version. A newer one and what is no site file are refused."""
    if not isinstance(tree, dict) or tree.get("format") != FORMAT:
        raise FaultyFileError(_("This is not a Stillfield site file: its first field should be the format."))
    found = tree.get("version")
    if isinstance(found, bool) or not isinstance(found, int) or found < 1:
        raise FaultyFileError(
            _("The site file does not say its version; a whole number from 1 would be right.")
        )
    if found > version:
        raise FaultyFileError(
            _(
                "This file was written by a newer Stillfield (file version {found}); this one reads up to version "
                "{known}. Open it with the newer one; nothing was changed."
            ).format(found=found, known=version)
        )
    for step in range(found, version):
        try:
            tree = upgrades[step](tree)
        except (LookupError, TypeError, ValueError, AttributeError):
            raise FaultyFileError(
                _(
                    "The file says it is of version {found} but is not built like one; it was not opened."
                ).format(found=found)
            ) from None
    return {**tree, "version": version}


def document_from_tree(tree: Tree) -> Document:
    """The document of a tree in the current version; FaultyFileError with every fault at once."""
    faults = _unknown("$", tree, _MEMBERS)
    design = _design(tree.get("design"), "$.design", faults)
    kept = _kept(tree.get("kept"), "$.kept", faults) if tree.get("kept") is not None else None
    drafts = _drafts(tree.get("drafts"), faults)
    assets = _assets(tree.get("assets"), faults)
    for path, one in _design_trees(tree):
        faults += _weather_faults(one, assets, path)
        faults += _picture_faults(one, assets, path)
    if faults or design is None:
        summary = plural(
            "The site file has {count} fault and was not opened.",
            "The site file has {count} faults and was not opened.",
            len(faults),
        )
        raise FaultyFileError(summary, tuple(faults))
    return Document(design=design, kept=kept, drafts=drafts, assets=tuple(sorted(assets.items())))


def json_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of a site file."""
    from pydantic import TypeAdapter  # reading a file needs its core alone

    design = TypeAdapter(Design).json_schema(ref_template="#/$defs/{model}")
    definitions = design.pop("$defs", {})
    definitions["Design"] = design
    kept = {
        "type": "object",
        "properties": {
            "design": {"$ref": "#/$defs/Design"},
            "label": {"type": "string"},
            "date": {"type": "string"},
        },
        "required": ["design"],
        "additionalProperties": False,
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Stillfield site file",
        "type": "object",
        "properties": {
            "format": {"const": FORMAT},
            "version": {"const": VERSION},
            "design": {"$ref": "#/$defs/Design"},
            "kept": {"anyOf": [kept, {"type": "null"}]},
            "drafts": {"type": "array", "items": kept},
            "assets": {
                "type": "object",
                "patternProperties": {"^[0-9a-f]{64}$": {"type": "string", "contentEncoding": "base64"}},
                "additionalProperties": False,
            },
        },
        "required": ["format", "version", "design"],
        "additionalProperties": False,
        "$defs": definitions,
    }


def _unknown(path: str, tree: Tree, known: tuple[str, ...]) -> list[Fault]:
    """Faults for the fields of a group that are not known; a few are named, more are counted."""
    strange = [name for name in tree if name not in known]
    few = strange if len(strange) <= MOST_FAULTS else []
    faults = [
        Fault(
            f"{path}.{name[:60]}",
            name[:60],
            _("a field that is not known here"),
            _("remove it or correct its name"),
        )
        for name in few
    ]
    if strange and not few:
        found = _("{count} fields that are not known here").format(count=len(strange))
        faults.append(Fault(path, _("the file"), found, _("remove them")))
    return faults


def _design_trees(tree: Tree) -> Iterator[tuple[str, Any]]:
    """The trees of all designs in a file, with their paths."""
    yield "$.design", tree.get("design")
    drafts = tree.get("drafts")
    held = [("$.kept", tree.get("kept"))]
    held += [
        (f"$.drafts[{place}]", draft)
        for place, draft in enumerate(drafts if isinstance(drafts, list) else ())
    ]
    for path, one in held:
        if isinstance(one, Mapping):
            yield f"{path}.design", one.get("design")


def _kept_tree(kept: Kept) -> Tree:
    return {"label": kept.label, "date": kept.date, "design": tree_of(kept.design)}


def _design(tree: Any, path: str, faults: list[Fault]) -> Design | None:
    if tree is None:
        faults.append(Fault(path, _("the design"), _("nothing"), _("this field must be there")))
        return None
    design, found = design_from_tree(tree)
    faults += [
        Fault(path + fault.path.removeprefix("$.design"), fault.name, fault.found, fault.wanted)
        for fault in found
    ]
    return design


def _kept(tree: Any, path: str, faults: list[Fault]) -> Kept | None:
    if not isinstance(tree, dict):
        faults.append(
            Fault(path, _("kept design"), shown(tree), _("a group of design, label and date would be right"))
        )
        return None
    faults += _unknown(path, tree, ("design", "label", "date"))
    texts = [tree.get("label", ""), tree.get("date", "")]
    for name, value in zip(("label", "date"), texts, strict=True):
        if not isinstance(value, str) or len(value) > 200:
            faults.append(Fault(f"{path}.{name}", name, shown(value), _("a short text would be right")))
    design = _design(tree.get("design"), f"{path}.design", faults)
    return Kept(design, *texts) if design is not None else None


def _drafts(tree: Any, faults: list[Fault]) -> tuple[Kept, ...]:
    if tree is None:
        return ()
    if not isinstance(tree, list):
        faults.append(Fault("$.drafts", _("drafts"), shown(tree), _("a list of designs would be right")))
        return ()
    if len(tree) > MOST_DRAFTS:
        wanted = _("at most {most} would be right").format(most=MOST_DRAFTS)
        faults.append(Fault("$.drafts", _("drafts"), shown(tree), wanted))
        return ()
    read = (_kept(draft, f"$.drafts[{place}]", faults) for place, draft in enumerate(tree))
    return tuple(draft for draft in read if draft is not None)


def _assets(tree: Any, faults: list[Fault]) -> dict[str, bytes]:
    if tree is None:
        return {}
    if not isinstance(tree, dict):
        faults.append(
            Fault("$.assets", _("assets"), shown(tree), _("a group of named assets would be right"))
        )
        return {}
    if len(tree) > MOST_ASSETS:
        wanted = _("at most {most} would be right").format(most=MOST_ASSETS)
        faults.append(Fault("$.assets", _("assets"), shown(tree), wanted))
        return {}
    assets: dict[str, bytes] = {}
    for name, coded in tree.items():
        try:
            data = base64.b64decode(coded, validate=True) if isinstance(coded, str) else None
        except (binascii.Error, ValueError):
            data = None
        if data is None or len(data) > LARGEST_ASSET or fingerprint(data) != name:
            faults.append(
                Fault(
                    f"$.assets.{name[:70]}",
                    _("asset"),
                    _("bytes that do not match their fingerprint"),
                    _("bring the weather or the picture in again from its own file"),
                )
            )
        else:
            assets[name] = data
    return assets


def _weather_faults(design: Any, assets: Mapping[str, bytes], path: str) -> Iterator[Fault]:
    """What is wrong with the kept year that a design's tree points at, whatever else is wrong with the tree."""
    weather = design
    for step in ("site", "weather"):
        weather = weather.get(step) if isinstance(weather, Mapping) else None
    if isinstance(weather, Mapping) and weather.get("kind") == "file":
        from studio.engine.sky.kept_year import unpack_weather  # most sites hold monthly sums

        yield from _kept_faults(
            weather.get("asset", ""),
            assets,
            unpack_weather,
            path=f"{path}.site.weather.asset",
            name=_("Site, kept weather year"),
            wanted=_("bring the weather in again from its own file, or give monthly sums"),
        )


def _picture_faults(design: Any, assets: Mapping[str, bytes], path: str) -> Iterator[Fault]:
    """What is wrong with the kept picture that a design's tree points at."""
    underlay = design.get("underlay") if isinstance(design, Mapping) else None
    asset = underlay.get("asset") if isinstance(underlay, Mapping) else None
    if asset:
        from studio.files.picture import size_of  # most sites hold no picture

        yield from _kept_faults(
            asset,
            assets,
            size_of,
            path=f"{path}.underlay.asset",
            name=_("Picture underlay, kept picture"),
            wanted=_("bring the picture in again from its own file, or leave this text empty"),
        )


def _kept_faults(
    asset: object,
    assets: Mapping[str, bytes],
    look: Callable[[bytes], object],
    *,
    path: str,
    name: str,
    wanted: str,
) -> Iterator[Fault]:
    """An asset that is not there, or that ``look`` refuses; a name that is no text is told of elsewhere."""
    if not isinstance(asset, str):
        return
    data = assets.get(asset)
    if data is None:
        yield Fault(path, name, _("no such asset in the file"), wanted)
        return
    try:
        look(data)
    except BadInputError as error:
        yield Fault(path, name, str(error), wanted)
