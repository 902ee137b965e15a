"""Reports of faults of the program: written on this computer, with paths and names taken out, never sent anywhere."""

import re
import sys
import traceback
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from types import TracebackType

_MOST_REPORTS = 20
_QUOTED = re.compile(r"'[^'\n]*'|\"[^\"\n]*\"")


def report(error: BaseException, *, folder: Path | None = None) -> Path | None:
    """Write a report of an error; where it is, None when it cannot be written."""
    try:
        if folder is None:
            import platformdirs

            folder = platformdirs.user_log_path("stillfield", appauthor=False)
        folder.mkdir(parents=True, exist_ok=True)
        for old in sorted(folder.glob("fault-*.txt"))[: -_MOST_REPORTS + 1]:
            old.unlink(missing_ok=True)
        path = folder / f"fault-{datetime.now():%Y%m%d-%H%M%S-%f}.txt"
        path.write_text(report_text(error), encoding="utf-8")
    except OSError:
        return None
    return path


def report_text(error: BaseException) -> str:
    """Kind, place and calls of an error: module and line only, no path, no value, no word a person typed."""
    import studio

    calls = [
        f"  {_module_of(frame.filename)}:{frame.lineno} in {frame.name}"
        for frame in traceback.extract_tb(error.__traceback__)
    ]
    lines = [
        f"stillfield {studio.__version__}",
        f"python {sys.version_info.major}.{sys.version_info.minor}.{sys.version_info.micro} on {sys.platform}",
        f"{type(error).__name__}: {_without_names(str(error))}",
        *calls,
    ]
    return "\n".join(lines) + "\n"


def _module_of(filename: str) -> str:
    """The path of a file of ours or of a library from its package on; nothing above it."""
    parts = Path(filename).parts
    for root in ("site-packages", "studio"):
        if root in parts:
            place = len(parts) - 1 - parts[::-1].index(root)
            return "/".join(parts[place if root == "studio" else place + 1 :])
    return parts[-1] if parts else "?"


def _without_names(text: str) -> str:
    """An error's words with everything quoted and everything that looks like a path taken out."""
    text = _QUOTED.sub("'…'", text.replace("\n", " "))
    return " ".join("…" if "/" in word or "\\" in word else word for word in text.split())[:300]


def install(tell: Callable[[Path | None], None]) -> None:
    """From now on an exception that nothing catches is reported and told; the desk goes on."""

    def hook(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        if issubclass(kind, KeyboardInterrupt):
            sys.__excepthook__(kind, error, trace)
            return
        tell(report(error.with_traceback(trace)))

    sys.excepthook = hook
