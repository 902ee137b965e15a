"""When the plan is painted anew."""

from studio.desk.state import State


def looks_anew(old: State, new: State) -> bool:
    """Whether anything is new that the plan shows: how far the working out is does not count."""
    shows = (
        "shown", "moment", "layers", "faded", "locked", "assessment", "selection", "tool", "document", "cut",
    )  # fmt: skip
    return old.fresh != new.fresh or any(getattr(old, part) is not getattr(new, part) for part in shows)


def comes_anyway(old: State, new: State) -> bool:
    """Whether all that is new is a passing answer while a hand drags: the next frame shows it."""
    return (
        new.preview is not None
        and new.preview is old.preview
        and new.moment == old.moment
        and new.selection == old.selection
        and new.assessment is not old.assessment
        and new.assessment is not None
        and not new.assessment.exact
    )
