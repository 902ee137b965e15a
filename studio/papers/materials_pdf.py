"""The material list as typeset pages. What is said comes from here as data; how it looks is in the template."""

import json
from collections.abc import Sequence
from pathlib import Path

import studio
from studio.engine.parts.listing import PricedLine, total_of
from studio.errors import WriteError
from studio.papers.materials import MaterialPaper, Words, missing_sentence, sum_known, words_for
from studio.text import _, number, pretty

_TEMPLATE = Path(studio.__file__).resolve().parent.parent / "resources" / "papers" / "materials.typ"


def pdf_of(paper: MaterialPaper) -> bytes:
    """A4 pages with a control line of 100 mm at the foot of each.

    Every text goes to the template as data, so that no name can be taken for markup. Raises WriteError when the
    template is not there or does not typeset.
    """
    import typst

    if not _TEMPLATE.is_file():
        raise WriteError(
            _("The template {template} is missing; install the studio anew").format(template=_TEMPLATE)
        )
    said = json.dumps(_said(paper), ensure_ascii=False)
    said.encode("utf-8")  # half a surrogate pair is told as such, not as a fault of the template
    try:
        pages = typst.compile(_TEMPLATE, format="pdf", sys_inputs={"said": said})
    except typst.TypstError as error:
        raise WriteError(
            _("The material list could not be typeset: {why}").format(why=error.message)
        ) from error
    if not isinstance(pages, bytes):
        raise WriteError(_("The material list could not be typeset: no page came back"))
    return pages


def _said(paper: MaterialPaper) -> dict[str, object]:
    words = words_for(paper)
    return {
        "title": paper.title,
        "site": paper.site_name,
        "design_of": words.design_of,
        "prices_of": words.prices_of,
        "read_first": _("Read the cautions at the end before anything is bought or built."),
        "heads": [words.part, words.quantity, words.unit_price, words.sum],
        "blocks": [_block(heading, lines, words) for heading, lines in paper.blocks if lines],
        "total": words.total,
        "sum": number(sum_known(paper.lines), digits=2),
        "missing": words.missing,
        "known_only": _("known prices"),
        "missing_sentence": missing_sentence(paper),
        "notes_head": _("Notes"),
        "notes": list(paper.notes),
        "cautions_head": _("Cautions"),
        "cautions": [{"title": caution.title, "sentence": caution.sentence} for caution in paper.cautions],
        "control": _("control line, 100 mm: measure it after printing"),
        "page": _("Page"),
    }


def _block(heading: str, lines: Sequence[PricedLine], words: Words) -> dict[str, object]:
    return {
        "heading": heading,
        "sum": number(sum_known(lines), digits=2),
        "known": not total_of(lines).missing,
        "lines": [
            {
                "part": line.label,
                "source": line.source,
                "quantity": _quantity(line.quantity),
                "unit": pretty(line.unit),
                "price": None if line.unit_price is None else number(line.unit_price, digits=2),
                "sum": number(line.sum, digits=2),
            }
            for line in lines
        ],
    }


def _quantity(value: float) -> str:
    """Pieces whole, metres and litres to a hundredth, little ones to three figures."""
    if float(value).is_integer():
        return number(value, digits=0)
    return number(value, digits=2) if abs(value) >= 1 else number(value)
