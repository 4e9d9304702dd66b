"""How answers read in the terminal: decisions, due lists, histories, in lines of text."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date
from itertools import groupby
from pathlib import Path

from standfast.cli.show import table
from standfast.desk.appeals import Listed
from standfast.desk.approvals import Approved
from standfast.desk.awards import Granted
from standfast.desk.due import DueList, Row
from standfast.model.approval import ApprovalStanding
from standfast.model.caution import CAUTION
from standfast.model.decision import OUTCOME_WORDS, STATE_WORDS, Decision, Disagreement, Reason
from standfast.model.focus import Focus

WIDTH = 88
SIGNS = {"met": "+", "not met": "x", "open": "?"}


def wrapped(text: str, indent: str = "", first: str | None = None) -> list[str]:
    """The text in lines of at most 88 columns; a short name with hyphens stays whole."""
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_on_hyphens=False,
    ) or [first or indent]


def not_reached(files: Sequence[Path]) -> list[str]:
    """That an erasure does not reach these files, and what to do about it."""
    return [
        line
        for file in files
        for line in wrapped(
            f"{file} is the book as it was before it was moved, and still has the name: delete"
            " that file, and its copies",
            "  ",
        )
    ]


def of_decision(decision: Decision, name: str, title: str, sheets: Mapping[str, str]) -> list[str]:
    """Outcome first, then the reasons in the order of the rule, then what to do next.

    `sheets` gives for each sheet id how a person knows it: `2026-03-01, Kei Ito`.
    """
    numbers = {sheet: str(n) for n, sheet in enumerate(_in_order(decision, sheets), 1)}
    lines = [
        f"{name}, {title}, on {decision.on}: {OUTCOME_WORDS[decision.outcome].upper()}",
        *(f"  sheet {n}: {sheets.get(sheet, sheet)}" for sheet, n in numbers.items()),
        *(of_focus(decision.focus) if decision.focus else ()),
        "",
    ]
    for reason in decision.reasons:
        lines.extend(_of_reason(reason, numbers))
    lines.extend(_block("near the line", decision.near))
    lines.extend(
        _block(
            "disagreements between assessors",
            [_of_disagreement(found, numbers) for found in decision.disagreements],
        )
    )
    lines.extend(
        _block(
            "left out",
            [
                f"sheet of {sheets.get(left.sheet, left.sheet)}: {left.because}"
                for left in decision.left_out
            ],
        )
    )
    lines.extend(_block("what to do next", decision.next_steps))
    return [*lines, "", *wrapped(CAUTION)]


def of_focus(focus: Focus) -> list[str]:
    """What a refresher or top-up covers, a line for each competency with the reason."""
    lines = [f"  this {focus.kind} covers, beside every incident:"]
    for one in focus.covered:
        lines += wrapped(f"{one.competency}: {one.because}", "      ", "    - ")
    return lines


def _in_order(decision: Decision, sheets: Mapping[str, str]) -> list[str]:
    """The sheets that count, by day and assessor."""
    return sorted(decision.sheets, key=lambda sheet: (sheets.get(sheet, ""), sheet))


def _of_disagreement(found: Disagreement, numbers: Mapping[str, str]) -> str:
    marks = "; ".join(
        f"{mark.mark} (sheet {numbers.get(mark.sheet, mark.sheet)})" for mark in found.marks
    )
    return f"{found.criterion}, {found.about}: {marks}; counted as {found.joined}"


def _of_reason(reason: Reason, numbers: Mapping[str, str]) -> list[str]:
    known = sorted((numbers.get(sheet, sheet) for sheet in reason.sheets), key=_by_number)
    word = "sheet" if len(known) == 1 else "sheets"
    detail = [
        f"standard: {reason.standard}" if reason.standard else "",
        f"{word} {', '.join(known)}" if known else "",
    ]
    lines = wrapped(
        f"{reason.says} ({STATE_WORDS[reason.state]})",
        "      ",
        f"  {SIGNS[reason.state]} {reason.step}: ",
    )
    if any(detail):
        lines.extend(wrapped("; ".join(filter(None, detail)), "        ", "      "))
    return lines


def _by_number(text: str) -> tuple[int, str]:
    return (int(text) if text.isdigit() else 0, text)


def _block(head: str, items: Sequence[str]) -> list[str]:
    if not items:
        return []
    return ["", f"{head}:", *(line for item in items for line in wrapped(item, "    ", "  - "))]


def of_award(granted: Granted) -> list[str]:
    """What was granted, until when, and what must happen next."""
    award, standing, dates = granted.award, granted.standing, granted.award.dates
    lines = [
        f"{granted.candidate.name}: {award.scope.title}, certificate {award.number}",
        f"  valid from {dates.first_day} until {standing.ends}, that day included"
        + (f" (ends by {standing.ends_by})" if standing.ends != dates.last_day else ""),
    ]
    if dates.refresher_due:
        lines.append(f"  refresher from {dates.refresher_opens} until {dates.refresher_due}")
    lines.append(
        f"  confirmed by {granted.certifier.name}"
        + (f", who {award.certifier_took_part}" if award.certifier_took_part else "")
        + (", who has a conflict of interest, as the paper says" if award.certifier_tied else "")
    )
    if award.reduced:
        without = "; ".join(granted.without)
        lines += wrapped(f"{award.reduced.since}, without {without}", "    ", "  reduced since ")
    for condition in award.conditions:
        lines.extend(wrapped(condition, "    ", "  condition: "))
    return [*lines, "", *wrapped(CAUTION)]


def of_due(found: DueList, waiting: Mapping[str, Sequence[Listed]]) -> list[str]:
    """Counts on top, then a group for each thing to do, the one with the soonest day first.

    `waiting` are the appeals and complaints without an answer, counted below.
    """
    head_line = f"{found.title}, {found.first} to {found.last}: {found.counts}"
    lines = textwrap.wrap(head_line, TERMINAL, subsequent_indent="  ")
    for what, group in found.groups:
        of = "certificate" if group[0].certificate else "approval"
        rows = [(str(r.by), cut(r.name), r.site, _which(r), r.to_do) for r in group]
        head = ("by", "who", "site", of, "to do")
        lines += ["", f"{what}: {len(group)}", *within(rows, head)]
    if waiting:
        counts = ", ".join(f"{len(group)} {state}" for state, group in waiting.items())
        lines += ["", f"appeals and complaints: {counts}; standfast appeals lists them"]
    return lines


TERMINAL, LEAST = 100, 24
"""Columns of a line of a table, and the fewest of its last column."""


def within(rows: Sequence[tuple[str, ...]], head: tuple[str, ...]) -> list[str]:
    """The table, its last column in as many lines as it needs to stay within 100 columns.

    The head of that column is not broken.
    """
    narrow = table([row[:-1] for row in rows], head[:-1], "  ")
    room = max(TERMINAL - len(narrow[1]) - 2, LEAST)
    broken = []
    for row in rows:
        first, *more = textwrap.wrap(row[-1], room, break_on_hyphens=False) or [""]
        broken.append((*row[:-1], first))
        broken += [(*[""] * (len(row) - 1), part) for part in more]
    return table(broken, head, "  ")


def of_approvals(found: Sequence[Approved], on: date) -> list[str]:
    """For each person a line for each approval: state, until when, why and what comes next."""
    states = Counter(one.standing.state for one in found)
    counts = ", ".join(f"{number} {state}" for state, number in states.items())
    lines = [f"approvals on {on}: {counts or 'none'}"]
    for name, group in groupby(found, key=lambda one: (one.person.name, one.person.id)):
        lines += ["", f"{name[0]} ({name[1]})"]
        told = [one.standing for one in group]
        rows = [(t.role, t.rubric, t.state, str(t.until or "-"), _why(t)) for t in told]
        lines += within(rows, ("as", "rubric", "state", "until", "why, and what next"))
    return lines


def _why(told: ApprovalStanding) -> str:
    return "; ".join(filter(None, (told.because, told.next_step)))


def _which(row: Row) -> str:
    """The certificate, or which approval."""
    return row.certificate or f"{row.role}, {row.rubric}"


LONGEST_NAME = 24


def cut(name: str) -> str:
    """A name that leaves room for the other columns."""
    return name if len(name) <= LONGEST_NAME else name[: LONGEST_NAME - 1] + "…"
