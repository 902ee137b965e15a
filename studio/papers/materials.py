"""The material list as a paper: what to buy, what it costs, what is not known, and the cautions beside it."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from studio.engine.hazard.cautions import Caution, cautions
from studio.engine.parts.listing import PricedLine, Total, total_of
from studio.errors import WriteError
from studio.papers.together import write_together
from studio.text import _, plural

Format = Literal["xlsx", "csv", "pdf"]
FORMATS: tuple[Format, ...] = ("xlsx", "csv", "pdf")


@dataclass(frozen=True)
class MaterialPaper:
    """What stands on the material list; the same for every format.

    ``blocks`` are (heading, lines). ``date`` is that of the design, ``price_date`` that of the prices, both as ISO
    dates and empty where not known. All prices are in ``currency``. The cautions are always there.
    """

    title: str
    site_name: str
    date: str
    currency: str
    price_date: str
    blocks: tuple[tuple[str, tuple[PricedLine, ...]], ...]
    notes: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = field(default_factory=cautions)

    @property
    def lines(self) -> tuple[PricedLine, ...]:
        """All lines, block by block."""
        return tuple(line for _heading, lines in self.blocks for line in lines)

    @property
    def total(self) -> Total:
        """Sum of the known prices, and the keys of the lines that have none."""
        return total_of(self.lines)


@dataclass(frozen=True)
class Words:
    """The fixed words of the list in the language spoken now, said once for all formats."""

    group: str
    part: str
    quantity: str
    unit: str
    unit_price: str
    sum: str
    source: str
    total: str
    missing: str
    note: str
    caution: str
    design_of: str
    prices_of: str


def words_for(paper: MaterialPaper) -> Words:
    """The column heads and other fixed words of ``paper``."""
    return Words(
        group=_("Block"),
        part=_("Part"),
        quantity=_("Quantity"),
        unit=_("Unit"),
        unit_price=_("Price each, {currency}").format(currency=paper.currency),
        sum=_("Sum, {currency}").format(currency=paper.currency),
        source=_("Where it comes from"),
        total=_("Sum of known prices") if paper.total.missing else _("Sum"),
        missing=_("price missing"),
        note=_("Note"),
        caution=_("Caution"),
        design_of=_("Design of {date}").format(date=paper.date) if paper.date else _("Design without a date"),
        prices_of=(
            _("Prices in {currency} of {date}").format(currency=paper.currency, date=paper.price_date)
            if paper.price_date
            else _("Prices in {currency} without a date").format(currency=paper.currency)
        ),
    )


def sum_known(lines: Sequence[PricedLine]) -> float | None:
    """Sum of the known prices; None where not one is known, which is not zero."""
    total = total_of(lines)
    return total.known if len(total.missing) < len(lines) else None


def missing_sentence(paper: MaterialPaper) -> str:
    """Which prices are missing, in one sentence; empty where none is."""
    labels = [line.label for line in paper.lines if line.unit_price is None]
    if not labels:
        return ""
    return plural(
        "{count} price is missing, so the sum is not the whole cost: {{labels}}",
        "{count} prices are missing, so the sum is not the whole cost: {{labels}}",
        len(labels),
    ).format(labels=", ".join(labels))


def write_materials(
    paper: MaterialPaper,
    into: Path,
    *,
    formats: Sequence[Format] = FORMATS,
    overwrite: bool = False,
    decimal_comma: bool | None = None,
) -> tuple[Path, ...]:
    """Write ``materials.xlsx``, ``.csv`` and ``.pdf``, or those of them in ``formats``, into the folder ``into``.

    All are made before the first is written; they come into the folder together or not at all. ``decimal_comma`` is
    for the CSV: numbers with a comma and fields set apart by a semicolon; None follows this computer's region.

    Raises WriteError for an empty list, for files that are there already unless ``overwrite``, and when a file call or
    the making of a paper fails.
    """
    if not paper.lines:
        raise WriteError(_("The material list is empty; place a line of mirrors first"))
    contents = {f"materials.{kind}": _made(paper, kind, decimal_comma) for kind in dict.fromkeys(formats)}
    return write_together(into, contents, overwrite=overwrite)


def _made(paper: MaterialPaper, kind: Format, decimal_comma: bool | None) -> bytes:
    try:
        if kind == "xlsx":
            from studio.papers.materials_xlsx import xlsx_of

            return xlsx_of(paper)
        if kind == "csv":
            from studio.papers.materials_csv import csv_of

            return csv_of(paper, decimal_comma=decimal_comma)
        if kind == "pdf":
            from studio.papers.materials_pdf import pdf_of

            return pdf_of(paper)
    except UnicodeError as error:
        raise WriteError(
            _(
                "The material list holds a character that cannot be written ({why}); correct the name it is in"
            ).format(why=error)
        ) from error
    raise WriteError(
        _("A material list cannot be written as {kind}; choose xlsx, csv or pdf").format(kind=kind)
    )
