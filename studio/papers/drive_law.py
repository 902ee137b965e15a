"""The drive's compact law for a small controller: coefficients, limits, sun, working hours and test vectors."""

import json
from math import isnan

from studio.engine.motion.compact import (
    DECLINATION_SCALE_DEG,
    EXCESS_SCALE_DEG,
    LawVector,
    MotionLaw,
)
from studio.engine.sky.short_sun import place_by_hand
from studio.papers.drive import DrivePaper, by_hand, lines_of
from studio.papers.drive_csv import rows_as_csv
from studio.papers.materials_csv import Cell
from studio.study.drive import DriveGroup, DriveTable

VERSION = 1
_SUN_VECTORS = ((1, 12.0), (80, 9.25), (172, 15.5), (264, 12.75), (355, 7.0))
LAW_HEADS = (
    "kind", "group", "motion", "i", "j", "coupled", "value",
    "declination_deg", "hour_angle_deg", "slide_m", "roll_deg",
)  # fmt: skip
_HOW = (
    "x = declination / declination_scale_deg, y = hour_angle / reach_deg.",
    "T0 = 1, T1 = x, Tn = 2 x T(n-1) - T(n-2); the same over y.",
    "roll_free = sum of coefficient Ti(x) Tj(y) over the roll's terms; roll = roll_free clipped from low to high.",
    "excess = (roll_free - roll) / excess_scale_deg; 0 where the roll is set by hand.",
    "slide_free = sum of coefficient Ti(x) Tj(y), times excess for coupled terms; slide = slide_free clipped.",
    "A motion that is null is set by hand: see settings. Outside works_from..works_to go to rest.",
    "Sun: t = 2 pi (day - 1 + utc_h/24)/365, utc_h = clock_h - utc_offset_h; declination (deg) and equation of time (min)",
    "are sums over k of cos_k cos(k t) + sin_k sin(k t);",
    "hour_angle = 15 (utc_h + longitude_deg/15 + equation_of_time/60 - 12), wrapped to -180..180.",
)


def law_json_of(paper: DrivePaper) -> bytes:
    """The law as JSON, complete by itself."""
    table = paper.table
    tree = {
        "format": "stillfield drive law",
        "version": VERSION,
        "site": table.site.name,
        "date": paper.date,
        "how_to_evaluate": list(_HOW),
        "declination_scale_deg": DECLINATION_SCALE_DEG,
        "excess_scale_deg": EXCESS_SCALE_DEG,
        "longitude_deg": table.site.longitude_deg,
        "utc_offset_h": table.site.utc_offset_h,
        "sun": {
            "declination_deg": [list(pair) for pair in table.sun.declination_deg],
            "equation_of_time_min": [list(pair) for pair in table.sun.equation_of_time_min],
            "test_vectors": [list(row) for row in _sun_vectors(table)],
        },
        "rest": {"slide_m": table.rest_slide_m, "roll_deg": table.rest_roll_deg},
        "groups": [_group(paper, group) for group in table.groups],
        "notes": list(paper.notes),
        "cautions": [f"{caution.title}: {caution.sentence}" for caution in paper.cautions],
    }
    return (json.dumps(tree, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")


def _sun_vectors(table: DriveTable) -> list[tuple[float, ...]]:
    """Day, clock hour, declination, hour angle."""
    site = table.site
    return [
        (
            day,
            clock_h,
            *(
                round(part, 4)
                for part in place_by_hand(
                    table.sun,
                    day=day,
                    clock_h=clock_h,
                    utc_offset_h=site.utc_offset_h,
                    longitude_deg=site.longitude_deg,
                )
            ),
        )
        for day, clock_h in _SUN_VECTORS
    ]


def _group(paper: DrivePaper, group: DriveGroup) -> dict[str, object]:
    law, hand = group.even.few, by_hand(group)
    error = group.error
    return {
        "group": group.number,
        "lines": list(group.line_ids),
        "reach_deg": law.reach_deg,
        "slide_m": _motion(law.slide),
        "roll_deg": _motion(law.roll),
        "error": {
            "slide_worst_mm": round(error.slide_worst_mm, 3),
            "slide_rms_mm": round(error.slide_rms_mm, 3),
            "roll_worst_deg": round(error.roll_worst_deg, 4),
            "roll_rms_deg": round(error.roll_rms_deg, 4),
        },
        "settings": [
            {
                "first_day": week.first_day,
                "last_day": week.last_day,
                "slide_m": week.slide_m if hand[0] else None,
                "roll_deg": week.roll_deg if hand[1] else None,
                "works_from_h": week.from_h,
                "works_to_h": week.to_h,
            }
            for week in paper.weeks(group)
        ],
        "test_vectors": [_vector(vector) for vector in group.vectors],
    }


def _motion(law: MotionLaw | None) -> dict[str, object] | None:
    if law is None:
        return None
    terms = [[term.i, term.j, int(term.coupled), term.coefficient] for term in law.terms]
    return {"low": law.low, "high": law.high, "terms_i_j_coupled_coefficient": terms}


def _vector(vector: LawVector) -> dict[str, float | None]:
    return {
        "declination_deg": vector.declination_deg,
        "hour_angle_deg": vector.hour_angle_deg,
        "slide_m": None if isnan(vector.slide_m) else vector.slide_m,
        "roll_deg": None if isnan(vector.roll_deg) else vector.roll_deg,
    }


def law_csv_of(paper: DrivePaper) -> bytes:
    """Coefficients and test vectors as rows; the JSON says how they are evaluated."""
    rows: list[tuple[Cell, ...]] = [LAW_HEADS]
    for group in paper.table.groups:
        law = group.even.few
        rows.append(_row("reach", group.number, value=law.reach_deg))
        for name, motion in (("slide", law.slide), ("roll", law.roll)):
            if motion is None:
                rows.append(_row("set by hand", group.number, motion=name))
                continue
            rows.append(_row("low", group.number, motion=name, value=motion.low))
            rows.append(_row("high", group.number, motion=name, value=motion.high))
            rows += [
                ("term", group.number, name, t.i, t.j, int(t.coupled), t.coefficient, None, None, None, None)
                for t in motion.terms
            ]
        for vector in group.vectors:
            told = _vector(vector)
            rows.append(("vector", group.number, "", None, None, None, None, *told.values()))
        rows.append(("lines", group.number, lines_of(group), *(None,) * 8))
    rows += [("caution", None, f"{c.title}: {c.sentence}", *(None,) * 8) for c in paper.cautions]
    return rows_as_csv(rows, decimal_comma=False)


def _row(kind: str, group: int, *, motion: str = "", value: float | None = None) -> tuple[Cell, ...]:
    return (kind, group, motion, None, None, None, value, None, None, None, None)
