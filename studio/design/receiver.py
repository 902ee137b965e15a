"""The receiver: the small box that takes a mirror's spot."""

from typing import Annotated, ClassVar, Literal

from studio.design.fields import Choice, Count, Quantity, document, mark


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
