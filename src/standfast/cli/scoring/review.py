"""The last step: what is open first, then counts, then contradictions, then the signature.

Nothing here says whether the candidate passes: no standard, no share, no verdict.
"""

from __future__ import annotations

from dataclasses import dataclass

from standfast.cli.scoring import lines, words
from standfast.cli.scoring.asking import NotUnderstood, Now, Taken
from standfast.cli.scoring.entries import Signed
from standfast.cli.scoring.sheet import made
from standfast.engine.sheets import faults_in
from standfast.model.evidence import Answer
from standfast.problems import Fault

MOST_LISTED = 12


@dataclass(frozen=True)
class Open:
    """Something that was left open."""

    says: str
    must: bool
    """Whether a sheet cannot be signed without it."""


@dataclass(frozen=True)
class Review:
    """The whole sheet once more, and the signature."""

    after: int
    """The number of the last entry: the review is shown anew when something was added."""

    def shows(self, now: Now) -> tuple[str, ...]:
        """Open, counts, contradictions."""
        head = f"4 REVIEW  {now.lesson.opened.practical}, {now.lesson.candidate_name}"
        return ("", head, *_open_lines(now), *_count_lines(now), *_contradiction_lines(now))

    def prompt(self, now: Now) -> str:
        """What a signature is, and the keys."""
        opened = now.lesson.opened
        because = " because ..." if open_points(now) else ""
        return (
            "o answer what is open, e entries, x undo, t g h u i + add (with @), q leave, ?\n"
            f"To sign, type {opened.practical} or {opened.assessor}{because}> "
        )

    def take(self, line: str, now: Now) -> Taken:
        """The signature, or a line of the lesson."""
        name, _, reason = line.partition(" ")
        if name in {now.lesson.opened.practical, now.lesson.opened.assessor}:
            return _sign(reason.strip(), now)
        if lines.is_lesson_line(line):
            return lines.read(line, now)
        raise NotUnderstood(
            f"'{line}' signs nothing; type the code or your name as it stands there"
        )


def _sign(reason: str, now: Now) -> Taken:
    against = len(contradictions(now))
    if against:
        raise NotUnderstood(f"not signed: {against} contradictions to mend first (listed above)")
    still = open_points(now)
    must = [point.says for point in still if point.must]
    if must:
        raise NotUnderstood(f"not signed: {len(must)} to answer first (o): {must[0]}")
    if still and not reason:
        raise NotUnderstood(
            f"not signed: {len(still)} left open; answer them with o, or say why they stay open:"
            f" {now.lesson.opened.practical} because ..."
        )
    reason = reason.removeprefix("because").strip()
    if len(reason) > lines.LONGEST_NOTE:
        raise NotUnderstood(f"a reason has at most {lines.LONGEST_NOTE} characters")
    return Taken((Signed(reason=reason or None if still else None),))


def open_points(now: Now) -> tuple[Open, ...]:
    """What was left open, in the order of the lesson."""
    lesson, state = now.lesson, now.state
    points = [
        Open(f"{words.the_try(lesson, state, t.n)}: {words.question(lesson, c)}", must=True)
        for t in state.tries
        for c in lesson.open_questions(t)
    ]
    kept_open = sorted(about for about in state.left if not about.startswith(("try:", "rating:")))
    needed = _logs_needed(now)
    points += [Open(words.about(lesson, state, a), must=a in needed) for a in kept_open]
    points += [
        Open(f"level of: {c.title}", must=False)
        for c in lesson.ratings
        if c.id not in state.ratings
    ]
    return tuple(points)


def _logs_needed(now: Now) -> set[str]:
    """The logs without which a choice could not be judged: nothing is taken for none."""
    return {
        f"log:{choice.event.student}:{skill}"
        for choice in now.state.choices
        for skill in now.lesson.before([choice.event.skill])
    }


def _open_lines(now: Now) -> tuple[str, ...]:
    points = open_points(now)
    if not points:
        return ("Open: nothing",)
    listed = [f"  - {point.says}" for point in points[:MOST_LISTED]]
    if len(points) > MOST_LISTED:
        listed.append(f"  and {len(points) - MOST_LISTED} more")
    return (f"Open: {len(points)}", *listed)


def _count_lines(now: Now) -> tuple[str, ...]:
    return (
        f"Tries: {len(now.state.tries)}; yes of those seen, not seen apart",
        *_answer_counts(now),
        *_choice_counts(now),
        *_look_counts(now),
        *_rating_counts(now),
        *_incident_counts(now),
        f"Notes: {len(now.state.notes)}; undone: {now.state.undone}",
    )


def _answer_counts(now: Now) -> tuple[str, ...]:
    rows = []
    for criterion in now.lesson.attempts:
        given: list[Answer] = [
            a_try.answers[criterion.id]
            for a_try in now.state.tries
            if criterion in now.lesson.questions(a_try.skill, completed=a_try.completed)
            and criterion.id in a_try.answers
        ]
        yes, unseen = given.count("yes"), given.count("unseen")
        apart = f" + {unseen} not seen" if unseen else ""
        rows.append(f"  {f'{yes}/{len(given) - unseen}':>5}  {criterion.title}{apart}")
    return tuple(rows)


def _choice_counts(now: Now) -> tuple[str, ...]:
    if not now.lesson.judges_choices:
        return ()
    gone = sum(choice.event.choice == "let-go" for choice in now.state.choices)
    return (f"Let go: {gone}; held back: {len(now.state.choices) - gone}",)


def _look_counts(now: Now) -> tuple[str, ...]:
    if not now.lesson.every:
        return ()
    looks = [look.event for _, look in sorted(now.state.looks.items())]
    missed = [str(look.look) for look in looks if look.waiting is None]
    which = f" ({', '.join(missed)})" if missed else ""
    return (f"Looks: {len(looks) - len(missed)} answered, {len(missed)} missed{which}",)


def _rating_counts(now: Now) -> tuple[str, ...]:
    unseen = sum(rated.level is None for rated in now.state.ratings.values())
    given = len(now.state.ratings) - unseen
    return (f"Ratings: {given} of {len(now.lesson.ratings)}, {unseen} not seen",)


def _incident_counts(now: Now) -> tuple[str, ...]:
    listed = [
        f"  {i.n:>4}  {words.clock(i.at):>6}  {words.in_words(now.lesson, now.state, i.event)}"
        for i in now.state.incidents
    ]
    return (f"Incidents: {len(listed) or 'none'}", *listed)


def contradictions(now: Now) -> tuple[tuple[Fault, int | None], ...]:
    """What contradicts the rubric or itself, each with the entry it is about.

    Answers still open are listed as open, not here; whether the assessor is approved is for the
    desk, which knows the school's people.
    """
    sheet = made(now.lesson, now.state)
    faults = faults_in(sheet.sheet, now.lesson.rubric, now.lesson.syllabus)
    return tuple(
        (fault, sheet.entry_at(fault.path)) for fault in faults if fault.path[2:] != ("answers",)
    )


def _contradiction_lines(now: Now) -> tuple[str, ...]:
    found = contradictions(now)
    if not found:
        return ("Contradictions: none",)
    listed = [
        f"  - {fault.what}; {fault.cure}" + (f" (entry {n}: x {n} undoes it)" if n else "")
        for fault, n in found
    ]
    return (f"Contradictions: {len(found)}", *listed)
