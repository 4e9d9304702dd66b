"""What the report about assessors says: three sentences, then a chart and a table each.

Sections come made: `desk/comparison_report.py` knows the figures, this module how a page is built
of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from standfast.model.school import School
from standfast.paper.view.charts import Courses, Dots, Grid
from standfast.paper.view.words import INVENTED, cautions, day


@dataclass(frozen=True)
class Table:
    """Numbers in words; the first cell of a row is its head."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def widths(self) -> tuple[int, ...]:
        """Of each column, in per cent: by the longest of its cells, and of its head's words."""
        columns = zip(*self.rows, strict=True) if self.rows else ((),) * len(self.head)
        needs = [
            min(
                max(
                    *map(len, head.split()),
                    *(len(line) for c in column for line in c.split("\n")),
                    FEWEST,
                ),
                MOST,
            )
            for head, column in zip(self.head, columns, strict=True)
        ]
        return tuple(round(100 * need / sum(needs)) for need in needs)

    @property
    def short(self) -> bool:
        """Whether it should not be broken over two pages."""
        return len(self.rows) <= MOST_ON_ONE_PAGE


FEWEST, MOST = 6, 44
"""Letters that a column is made for."""
MOST_ON_ONE_PAGE = 12


@dataclass(frozen=True)
class Section:
    """One question: what is to be seen, drawn, and as numbers."""

    id: str
    title: str
    says: str
    charts: tuple[Dots | Grid | Courses, ...]
    tables: tuple[Table, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class ComparisonView:
    """The report, in words."""

    title: str
    language: str
    paper: str
    school: str
    source: str
    seen_on: str
    sentences: tuple[str, ...]
    sections: tuple[Section, ...]
    reading: tuple[str, ...]
    """How to read it, and what it is not."""
    caution: tuple[str, ...]
    invented: str
    style: str = ""
    """The style sheet of a page that must stand alone; empty for paper."""


def comparison_view(
    source: str,
    sentences: Sequence[str],
    sections: Iterable[Section],
    reading: Sequence[str],
    seen_on: date,
    school: School,
) -> ComparisonView:
    """What the report of that day says."""
    return ComparisonView(
        title="Are the assessors in step?",
        language=school.language,
        paper=school.paper,
        school=school.name,
        source=source,
        seen_on=day(seen_on),
        sentences=tuple(sentences),
        sections=tuple(sections),
        reading=tuple(reading),
        caution=cautions(school),
        invented=INVENTED if school.invented else "",
    )
