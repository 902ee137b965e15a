"""What an edit is, and the one gate that every edit passes."""

from collections.abc import Container
from dataclasses import dataclass

from studio.design.design import Design
from studio.design.site import FileWeather
from studio.design.validate import hold_to_rules
from studio.errors import BadInputError
from studio.text import _


@dataclass(frozen=True)
class Edit:
    """A new design and what undo calls the step that led to it ("Move Line 3 by 1.20 m")."""

    label: str
    design: Design


def admit(before: Design, edit: Edit, *, assets: Container[str] | None = None) -> Edit:
    """Let an edit through when its design can be computed and opened again.

    ``assets`` are the fingerprints of what the document holds; with them an edit that names a weather year or a picture
    which is not there is refused too.

    Raises BadInputError with one sentence that says what, where and what would be right.
    """
    hold_to_rules(before, edit.design)
    weather = edit.design.site.weather
    if assets is not None and isinstance(weather, FileWeather) and weather.asset not in assets:
        raise BadInputError(
            _(
                "Site, kept year: there is no weather year “{name}” in this file; bring it in from its weather file."
            ).format(name=weather.asset[:12])
        )
    picture = edit.design.underlay.asset
    if assets is not None and picture and picture not in assets:
        raise BadInputError(
            _(
                "Picture underlay: there is no picture “{name}” in this file; bring it in from its PNG or JPEG file."
            ).format(name=picture[:12])
        )
    return edit
