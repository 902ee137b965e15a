"""One mirror: its form, its film, its workmanship."""

from typing import Annotated, ClassVar, Literal

from studio.design.fields import Choice, Count, Places, Quantity, document, mark

MRAD_HELP = mark("1 mrad is 1 mm per metre at the bench")


@document
class Mirror:
    """A fixed concave reflector: ribs, strips of film, stand."""

    TITLE: ClassVar[str] = mark("Mirror")

    surface: Annotated[
        Literal["paraboloid", "sphere", "circles"],
        Choice(
            mark("surface"), "", mark("The form the ribs are bent to and set out along"),
            words={
                "paraboloid": mark("paraboloid"), "sphere": mark("sphere"), "circles": mark("equal circles"),
            },
        ),
    ] = "paraboloid"  # fmt: skip
    width_m: Annotated[
        float, Quantity(mark("width"), "m", mark("Aperture across the ribs"), low=0.1, high=10.0)
    ] = 1.25
    height_m: Annotated[
        float,
        Quantity(mark("height"), "m", mark("Aperture along the ribs, up the slope"), low=0.1, high=10.0),
    ] = 1.44
    focal_m: Annotated[
        float,
        Quantity(
            mark("focal length"),
            "m",
            mark("From the vertex to the focus; half the radius of a sphere"),
            low=0.1,
            high=20.0,
        ),
    ] = 1.3
    focal_across_m: Annotated[
        float | None,
        Quantity(
            mark("focal length across"),
            "m",
            mark(
                "Of the curve that the ribs are set out along; empty: as along the ribs. A sphere has only one"
            ),
            low=0.1,
            high=50.0,
        ),
    ] = None
    ribs: Annotated[
        int,
        Count(
            mark("ribs"),
            "",
            mark("Bent rods, the first and the last on the edges; more ribs, flatter strips"),
            low=2,
            high=60,
        ),
    ] = 11
    rib_places_m: Annotated[
        tuple[float, ...],
        Places(
            mark("inner ribs at"),
            "m",
            mark(
                "From the mirror's middle, one after the other; the edges always carry a rib. Empty: evenly spaced"
            ),
            low=-5.0,
            high=5.0,
            longest=58,
        ),
    ] = ()
    tilt_deg: Annotated[
        float,
        Quantity(
            mark("tilt"), "°", mark("Of the mirror axis from the vertical"), low=0.0, high=85.0, digits=1
        ),
    ] = 36.0
    facing_deg: Annotated[
        float,
        Quantity(
            mark("facing"),
            "°",
            mark("Azimuth the mirror faces, clockwise from true north"),
            low=-360.0,
            high=360.0,
            digits=1,
        ),
    ] = 180.0
    stands_at_m: Annotated[
        float,
        Quantity(mark("stands at"), "m", mark("Height of the vertex above the ground"), low=0.05, high=10.0),
    ] = 0.95
    slope_error_mrad: Annotated[
        float,
        Quantity(
            mark("slope error"),
            "mrad",
            mark(
                "Workmanship: RMS deviation of the surface per axis, from setting-out, wrinkles and waviness. 1 mrad is 1 mm per metre"
            ),
            low=0.5,
            high=40.0,
            digits=1,
        ),
    ] = 5.0
    scatter_mrad: Annotated[
        float,
        Quantity(
            mark("film scatter"),
            "mrad",
            mark("RMS spread of a reflected ray per axis. 1 mrad is 1 mm per metre"),
            low=0.0,
            high=40.0,
            digits=1,
        ),
    ] = 1.8
    reflectance: Annotated[
        float,
        Quantity(
            mark("reflectance"),
            "",
            mark("Of the film when new and clean, solar weighted"),
            low=0.01,
            high=1.0,
        ),
    ] = 0.86
    dirt_factor: Annotated[
        float,
        Quantity(
            mark("dirt factor"),
            "",
            mark("Share of the clean film's reflectance that is left under dust, mean over the year"),
            low=0.01,
            high=1.0,
        ),
    ] = 0.93
    age_factor: Annotated[
        float,
        Quantity(
            mark("age factor"),
            "",
            mark("Share of the new film's reflectance that is left, mean over the film's life"),
            low=0.01,
            high=1.0,
        ),
    ] = 0.95
    pull_along_n_m: Annotated[
        float,
        Quantity(
            mark("pull along ribs"),
            "N/m",
            mark(
                "Tension of the film along the ribs. The smaller against the pull across, the flatter its strips"
            ),
            low=0.0,
            high=5000.0,
            digits=0,
        ),
    ] = 40.0
    pull_across_n_m: Annotated[
        float,
        Quantity(
            mark("pull across ribs"),
            "N/m",
            mark("Tension of the film from rib to rib"),
            low=1.0,
            high=5000.0,
            digits=0,
        ),
    ] = 160.0
    film_um: Annotated[
        float,
        Quantity(
            mark("film thickness"), "µm", mark("Of the film with its coats"), low=5.0, high=1000.0, digits=0
        ),
    ] = 50.0
    wind_on_film_m_s: Annotated[
        float,
        Quantity(
            mark("wind on the film"),
            "m/s",
            mark("Square on the mirror's face, at which the spot is reckoned; 0: still air"),
            low=0.0,
            high=40.0,
            digits=1,
        ),
    ] = 0.0
    rib_yield_mpa: Annotated[
        float,
        Quantity(
            mark("rod's yield stress"),
            "MPa",
            mark("Of the ribs' steel; plain bar about 235"),
            low=50.0,
            high=2000.0,
            digits=0,
        ),
    ] = 235.0
    rib_holds: Annotated[
        int,
        Count(
            mark("a rib is held at"),
            mark("places"),
            mark("Where stand and spreaders hold each rib, its ends among them"),
            low=2,
            high=30,
        ),
    ] = 3
