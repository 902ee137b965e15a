"""One mirror, its receiver, and how a line moves its receivers."""

from typing import Annotated, ClassVar, Literal

from studio.design.fields import Choice, Count, Quantity, document, mark
from studio.design.site import FOLLOWING, Following

MRAD_HELP = mark("1 mrad is 1 mm per metre at the bench")


@document
class Mirror:
    """A fixed concave reflector: ribs, strips of film, stand."""

    TITLE: ClassVar[str] = mark("Mirror")

    surface: Annotated[
        Literal["paraboloid", "sphere"],
        Choice(
            mark("surface"), "", mark("The form the ribs are bent to"),
            words={"paraboloid": mark("paraboloid"), "sphere": mark("sphere")},
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


@document
class Receiver:
    """The small box that takes the spot."""

    TITLE: ClassVar[str] = mark("Receiver")

    window_width_m: Annotated[
        float,
        Quantity(
            mark("window width"), "m", mark("Of the opening, along the line"), low=0.01, high=3.0, digits=3
        ),
    ] = 0.2
    window_height_m: Annotated[
        float,
        Quantity(
            mark("window height"),
            "m",
            mark("Of the opening, square to the line"),
            low=0.01,
            high=3.0,
            digits=3,
        ),
    ] = 0.175
    acceptance_deg: Annotated[
        float,
        Quantity(
            mark("acceptance"),
            "°",
            mark("Half-angle about the window's normal within which light may enter"),
            low=5.0,
            high=89.0,
            digits=0,
        ),
    ] = 55.0
    depth_m: Annotated[
        float,
        Quantity(
            mark("box depth"),
            "m",
            mark("From the window to the back of the box, insulation included"),
            low=0.01,
            high=1.0,
            digits=3,
        ),
    ] = 0.09
    coating: Annotated[
        Literal["black paint", "selective"],
        Choice(
            mark("coating"), "", mark("Of the absorber: paint radiates as well as it absorbs, a selective one far less"),
            words={"black paint": mark("black paint"), "selective": mark("selective coating")},
        ),
    ] = "black paint"  # fmt: skip
    glass: Annotated[
        Literal["none", "single"],
        Choice(
            mark("glass"), "", mark("A pane in the window: less wind, less light"),
            words={"none": mark("open window"), "single": mark("one pane")},
        ),
    ] = "none"  # fmt: skip
    fins: Annotated[
        int, Count(mark("fins"), "", mark("Inside the absorber, along the flow"), low=0, high=200)
    ] = 34
    fin_height_mm: Annotated[
        float,
        Quantity(
            mark("fin height"), "mm", mark("Height of the oil's channels"), low=1.0, high=100.0, digits=1
        ),
    ] = 10.0
    fin_thickness_mm: Annotated[
        float, Quantity(mark("fin thickness"), "mm", mark("Of each fin"), low=0.1, high=20.0, digits=1)
    ] = 1.5
    back_insulation_mm: Annotated[
        float,
        Quantity(
            mark("back insulation"),
            "mm",
            mark("Around the box except its window"),
            low=1.0,
            high=300.0,
            digits=0,
        ),
    ] = 50.0


@document
class Motion:
    """The line's pipe-and-drive: slide along the line, roll about the roll axis, shared by every receiver."""

    TITLE: ClassVar[str] = mark("Slide and roll")

    axis_up_m: Annotated[
        float,
        Quantity(
            mark("roll axis above vertex"),
            "m",
            mark("Along the mirror axis; 0: the axis runs through the vertices"),
            low=-5.0,
            high=10.0,
        ),
    ] = 0.0
    arm_m: Annotated[
        float,
        Quantity(mark("arm"), "m", mark("From the roll axis to the receiver's window"), low=0.05, high=20.0),
    ] = 1.235
    slide: Annotated[Following, FOLLOWING] = "follow"
    roll: Annotated[Following, FOLLOWING] = "follow"
    hold_days: Annotated[
        int, Count(mark("set every"), "days", mark("How many days a hand setting is held"), low=1, high=92)
    ] = 7
    slide_at_m: Annotated[
        float,
        Quantity(
            mark("fixed slide"),
            "m",
            mark("Where a fixed slide stands; + towards the far end"),
            low=-20.0,
            high=20.0,
        ),
    ] = 0.0
    roll_at_deg: Annotated[
        float,
        Quantity(
            mark("fixed roll"),
            "°",
            mark("Where a fixed roll stands; 0: arm along the mirror axis"),
            low=-89.0,
            high=89.0,
            digits=1,
        ),
    ] = 0.0
    stroke_m: Annotated[
        float,
        Quantity(
            mark("stroke, each way"), "m", mark("How far the pipe slides from its middle"), low=0.0, high=20.0
        ),
    ] = 1.1
    roll_from_deg: Annotated[
        float,
        Quantity(
            mark("roll from"),
            "°",
            mark("Lower limit; right-handed about the line from drive end to far end"),
            low=-89.0,
            high=89.0,
            digits=1,
        ),
    ] = -29.0
    roll_to_deg: Annotated[
        float, Quantity(mark("roll to"), "°", mark("Upper limit"), low=-89.0, high=89.0, digits=1)
    ] = 29.0
    rest_slide_m: Annotated[
        float,
        Quantity(
            mark("slide at rest"),
            "m",
            mark("At night, when defocused and after a stop"),
            low=-20.0,
            high=20.0,
        ),
    ] = 0.0
    rest_roll_deg: Annotated[
        float,
        Quantity(
            mark("roll at rest"),
            "°",
            mark("At night, when defocused and after a stop"),
            low=-89.0,
            high=89.0,
            digits=1,
        ),
    ] = 29.0
    pipe_out_m: Annotated[
        float,
        Quantity(
            mark("pipe beyond window"),
            "m",
            mark("The pipe's middle, along the arm outward from the window"),
            low=-20.0,
            high=5.0,
            digits=3,
        ),
    ] = 0.03
    pipe_aside_m: Annotated[
        float,
        Quantity(
            mark("pipe beside window"),
            "m",
            mark("The pipe's middle, square to arm and line, + up the mirror's slope"),
            low=-5.0,
            high=5.0,
            digits=3,
        ),
    ] = -0.16
    mirrors_per_frame: Annotated[
        int,
        Count(
            mark("mirrors per frame"),
            "",
            mark("A swing frame carries the pipe once per so many mirrors"),
            low=1,
            high=50,
        ),
    ] = 2
    frame_width_m: Annotated[
        float,
        Quantity(
            mark("frame width"),
            "m",
            mark("Of the rods of a swing frame, seen from the front"),
            low=0.003,
            high=0.5,
            digits=3,
        ),
    ] = 0.025
    frame_room_m: Annotated[
        float,
        Quantity(
            mark("room for a frame"),
            "m",
            mark("Gap between mirrors that a frame needs to swing"),
            low=0.0,
            high=2.0,
        ),
    ] = 0.08
