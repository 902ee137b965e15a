"""How a line moves its receivers: roll axis, arm, slide, roll, limits, rest pose, where the pipe rides."""

from typing import Annotated, ClassVar, Literal

from studio.design.fields import Choice, Count, Quantity, document, mark
from studio.design.site import FOLLOWING, Following


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
    axis_aside_m: Annotated[
        float,
        Quantity(
            mark("roll axis beside vertex"),
            "m",
            mark("Square to the line and the mirror axis, + up the mirror's slope"),
            low=-5.0,
            high=5.0,
        ),
    ] = 0.0
    arm_m: Annotated[
        float,
        Quantity(mark("arm"), "m", mark("From the roll axis to the receiver's window"), low=0.05, high=20.0),
    ] = 1.235
    arm_lean_deg: Annotated[
        float,
        Quantity(
            mark("arm leans"),
            "°",
            mark("From the mirror axis at roll 0, right-handed about the line; the window leans with it"),
            low=-80.0,
            high=80.0,
            digits=1,
        ),
    ] = 0.0
    window_turn_deg: Annotated[
        float,
        Quantity(
            mark("window turned"),
            "°",
            mark("Of the window on its arm, right-handed about the line; 0: light comes in along the arm"),
            low=-80.0,
            high=80.0,
            digits=1,
        ),
    ] = 0.0
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
    anchor_share: Annotated[
        float,
        Quantity(
            mark("anchor along the line"),
            "",
            mark("The point of the pipe that heat does not move: 0 at the drive end, 1 at the far end"),
            low=0.0,
            high=1.0,
        ),
    ] = 0.0
    spaced_for: Annotated[
        Literal["hot", "cold"],
        Choice(
            mark("receivers spaced for"), "", mark("Whether receivers meet their spots on the hot or on the cold pipe"),
            words={"hot": mark("hot pipe"), "cold": mark("cold pipe")},
        ),
    ] = "hot"  # fmt: skip
    aim_slide_mm: Annotated[
        float,
        Quantity(
            mark("aim along the line"),
            "mm",
            mark("RMS between the mirrors of one drive: how far a spot lies off its receiver"),
            low=0.0,
            high=500.0,
            digits=1,
        ),
    ] = 0.0
    aim_roll_deg: Annotated[
        float,
        Quantity(
            mark("aim across the line"),
            "°",
            mark("RMS between the mirrors of one drive, as a roll of the receiver"),
            low=0.0,
            high=20.0,
        ),
    ] = 0.0
    friction: Annotated[
        float,
        Quantity(
            mark("friction of the rollers"),
            "",
            mark("Force along over force across, of the pipe in its bearings; a guess until measured"),
            low=0.0,
            high=1.0,
        ),
    ] = 0.05
    balance_share: Annotated[
        float,
        Quantity(
            mark("frames balanced"),
            "",
            mark(
                "Share of what hangs off the roll axis that counterweights take off; 1: a frame stays where it is put"
            ),
            low=0.0,
            high=1.0,
            digits=3,
        ),
    ] = 1.0
    receiver_kg: Annotated[
        float,
        Quantity(
            mark("receiver weighs"),
            "kg",
            mark("Box, absorber, insulation and their holder, without oil; a guess until weighed"),
            low=0.0,
            high=500.0,
            digits=1,
        ),
    ] = 6.0
