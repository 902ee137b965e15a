"""What shade between the mirrors' curved films differs from that between flat apertures by, over the year's light.

Asked for alone: an assessment takes apertures as flat, and this says what that costs.
"""

from studio.design.design import Document
from studio.engine.shade.curved import CurvedShade, curved_shade
from studio.study.cache import Cache
from studio.study.place import form_of, place_lines, row_of
from studio.study.sky import sky_of


def curved_shade_of(document: Document, cache: Cache) -> CurvedShade:
    """Of a document's field, by the DNI of its year's sunlit hours; kept for the same mirrors, lines, ground and sky."""
    design = document.design
    sky = sky_of(design.site, document.asset, cache)

    def work() -> CurvedShade:
        rows = [row_of(line, design.mirror) for line in place_lines(design)]
        return curved_shade(form_of(design.mirror), rows, sky.suns, sky.dni)

    return cache.get(("curved shade", sky.key, design.mirror, design.lines, design.ground), work)
