"""The material list of an assessed design."""

from datetime import date

from studio.papers.materials import MaterialPaper
from studio.study.assessment import Assessment
from studio.text import _


def material_paper(assessment: Assessment, *, today: date | None = None) -> MaterialPaper:
    """The material list as a paper: its blocks, the note of the design, and what the checks forbid."""
    design = assessment.design
    stops = tuple(
        _("Mend before buying: {sentence}").format(sentence=finding.sentence)
        for finding in assessment.findings
        if finding.forbids
    )
    notes = tuple(note for note in (design.note, design.prices.origin) if note)
    return MaterialPaper(
        title=_("Material list"),
        site_name=design.site.name,
        date=(today or date.today()).isoformat(),
        currency=design.prices.currency,
        price_date=design.prices.date,
        blocks=tuple((block.heading, block.lines) for block in assessment.materials),
        notes=(*stops, *notes),
    )
