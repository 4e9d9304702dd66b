"""What a refresher's rubric says of what it covers that cannot be meant so."""

from __future__ import annotations

from collections.abc import Iterator

from standfast.model.rubric import Rubric
from standfast.problems import Fault, nearest


def covers_faults(rubric: Rubric) -> Iterator[Fault]:
    """Competencies that are not there or named twice, and a choice that leaves none."""
    rule = rubric.covers
    if rule is None:
        return
    if rubric.refreshes is None:
        cure = "leave it out; a full practical covers the whole rubric"
        yield Fault(("covers",), "'covers' in a rubric that refreshes nothing", cure)
    known = [competency.id for competency in rubric.competencies]
    for n, name in enumerate(rule.always):
        if name not in known:
            yield Fault(("covers", "always", n), f"no competency '{name}'", nearest(name, known))
        if name in rule.always[:n]:
            yield Fault(("covers", "always", n), f"'{name}' is there twice", "name it once")
    named = len(set(rule.always) & set(known))
    if named + rule.weakest >= len(known) > 0:
        yield Fault(
            ("covers", "weakest"),
            f"{named} always and {rule.weakest} weakest of {len(known)} competencies: all of them",
            "lower it, or leave 'covers' out",
        )
    if named + rule.weakest == 0:
        yield Fault(("covers",), "a refresher that covers nothing", "name competencies in 'always'")


def never_seen_faults(refresher: Rubric, full: Rubric) -> Iterator[Fault]:
    """A competency that no full practical shows can never be told weak or strong."""
    rule = refresher.covers
    shown = {competency.id for competency in full.competencies}
    for n, competency in enumerate(refresher.competencies):
        if rule and competency.id not in {*shown, *rule.always}:
            yield Fault(
                ("competencies", n, "id"),
                f"'{competency.id}' is no competency of {full.id}, so how strong it was last time"
                " is not known",
                "name it under 'covers: always', or as it is called there",
            )
