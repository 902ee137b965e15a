"""The mirror frame in the site's: x, y and z of a mirror that is tilted and faces somewhere."""

from math import cos, radians, sin

Vector = tuple[float, float, float]
Axes = tuple[Vector, Vector, Vector]


def mirror_axes(*, tilt_deg: float, facing_deg: float) -> Axes:
    """The mirror's own x, y and z as unit vectors of the site frame (east, north, up).

    z is the mirror's axis, ``tilt_deg`` from the vertical towards the azimuth ``facing_deg`` (clockwise from true
    north); y runs up the slope of the aperture; x = y cross z, east for a mirror that faces south. The facing is kept when
    the tilt is 0. With the axes as rows of a matrix, a vector v of the site is ``axes @ v`` in the mirror frame, and a
    vector m of the mirror frame is ``m @ axes`` in the site's.
    """
    tilt, facing = radians(tilt_deg), radians(facing_deg)
    ahead = (sin(facing), cos(facing))
    return (
        (-ahead[1], ahead[0], 0.0),
        (-cos(tilt) * ahead[0], -cos(tilt) * ahead[1], sin(tilt)),
        (sin(tilt) * ahead[0], sin(tilt) * ahead[1], cos(tilt)),
    )
