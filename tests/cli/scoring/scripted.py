"""A small invented rubric and syllabus, and a keyboard that types a script."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import yaml

from standfast.cli.scoring import session
from standfast.cli.scoring.setup import Setup
from standfast.model.rubric import Rubric
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus

ROOT = Path(__file__).resolve().parents[3]
START = datetime(2026, 3, 1, 10, 0, tzinfo=timezone(timedelta(hours=1)))
KEY = "01957f2c-0000-7000-8000-000000000001"

SPOT = {
    "stands": "at the side",
    "controls": "the near wrist",
    "starts": "grip",
    "ends": "feet down",
}
LEVELS = [{"level": n, "title": f"level {n}", "words": f"{n} things are seen"} for n in (1, 2, 3)]


def _skill(name: str, *before: str) -> dict[str, Any]:
    return {
        "id": name,
        "title": name.replace("-", " "),
        "prerequisites": [{"skill": skill, "times": 3} for skill in before],
        "spot": SPOT,
        "hazards": ["a grip that opens"],
        "waiting": ["watch and count"],
        "source": "invented",
    }


SYLLABUS = Syllabus.model_validate(
    {
        "id": "bars",
        "title": "Bars (invented)",
        "version": 1,
        "skills": [
            _skill("long-hang"),
            _skill("tuck-hang", "long-hang"),
            _skill("tuck-invert", "long-hang", "tuck-hang"),
        ],
    }
)


def _attempts(name: str, question: str, **more: object) -> dict[str, Any]:
    standard = {"share": 0.8, "assurance": 0.8, "least": 4}
    return {
        "id": name,
        "kind": "attempts",
        "title": name,
        "question": question,
        "look_for": "It is seen.",
        "standard": standard,
        **more,
    }


def _rating(name: str) -> dict[str, Any]:
    return {
        "id": name,
        "kind": "rating",
        "title": name,
        "look_for": f"What {name} looks like.",
        "levels": LEVELS,
        "standard": {"least": 2, "floor": 1},
    }


def _incident(name: str, **standard: object) -> dict[str, Any]:
    return {
        "id": name,
        "kind": "incident",
        "title": name.replace("-", " "),
        "look_for": "It happens.",
        "standard": standard,
    }


def _competency(name: str, *criteria: dict[str, Any]) -> dict[str, Any]:
    return {
        "id": name,
        "title": name,
        "about": name,
        "weight": 0.25,
        "least_share": 0.5,
        "criteria": list(criteria),
    }


RUBRIC = Rubric.model_validate(
    {
        "id": "bars-1",
        "title": "Instructor, bars (invented)",
        "version": 1,
        "in_force": "2024-01-01",
        "syllabus": "bars",
        "competencies": [
            _competency("look-over", _rating("five-looks")),
            _competency(
                "spotting",
                _attempts("in-place", "In place before the move?"),
                _attempts("still", "Still through the move?", skills=["tuck-invert"]),
                _incident("left-unsupported", effect="stops"),
                _incident("touch-unasked", effect="counts", limit=1),
            ),
            _competency(
                "checking",
                {
                    "id": "choices",
                    "kind": "clearances",
                    "title": "choices",
                    "look_for": "Let go or held back.",
                    "standard": {"accuracy": 0.8, "assurance": 0.8, "least": 3},
                },
                _rating("log-read"),
            ),
            _competency(
                "after",
                _attempts("down-first", "Down before words?", asked="failed"),
                {
                    "id": "idle",
                    "kind": "samples",
                    "title": "idle",
                    "look_for": "Who waits.",
                    "standard": {"idle": 0.3, "assurance": 0.8, "least": 3, "every": 60},
                },
            ),
        ],
        "decision": {
            "practicals": 1,
            "assessors": 1,
            "window": "P6M",
            "overall_share": 0.5,
        },
    }
)


def setup(*, rubric: Rubric = RUBRIC, paper: bool = False, **more: Any) -> Setup:  # noqa: ANN401
    """The small practical."""
    given: dict[str, Any] = {
        "candidate": "ada-berg",
        "candidate_name": "Ada Berg (invented)",
        "assessor": "kaz-ito",
        "practical": "lesson-7",
        "minutes": 5,
        "began": START if paper else None,
    }
    return Setup(rubric, SYLLABUS, paper=paper, **{**given, **more})


def shipped_setup(*, paper: bool = False) -> Setup:
    """A practical under the shipped trapeze rubric."""

    def read(name: str, kind: str) -> dict[str, Any]:
        raw: dict[str, Any] = yaml.safe_load((ROOT / "rubrics" / f"{name}.yaml").read_text("utf-8"))
        return {"id": raw.pop(kind), **raw}

    rubric = Rubric.model_validate(read("low-trapeze-1", "rubric"))
    syllabus = Syllabus.model_validate(read("low-trapeze", "syllabus"))
    return Setup(
        rubric,
        syllabus,
        candidate="ada-berg",
        candidate_name="Ada Berg (invented)",
        assessor="kaz-ito",
        practical="lesson-7",
        minutes=55,
        began=START if paper else None,
        paper=paper,
    )


@dataclass
class Keyboard:
    """Types a script, a line each `step` seconds; Ctrl-C before line `stop`, else ends the file."""

    script: Sequence[str]
    stop: int | None = None
    typed: int = 0
    step: int = 5
    shown: list[str] = field(default_factory=list)
    prompts: list[str] = field(default_factory=list)

    def ask(self, prompt: str, _seconds: float | None = None, /) -> str | None:
        self.prompts.append(prompt)
        if self.typed == self.stop:
            raise KeyboardInterrupt
        if self.typed >= len(self.script):
            raise EOFError
        self.typed += 1
        return self.script[self.typed - 1]

    def clock(self) -> datetime:
        """Moves on with each line typed, so that an interruption changes no time."""
        return START + timedelta(seconds=self.step * self.typed)

    @property
    def screen(self) -> str:
        return "\n".join(self.shown)


def score(
    keyboard: Keyboard,
    drafts: Path,
    *,
    clock: Callable[[], datetime] | None = None,
    **more: Any,  # noqa: ANN401
) -> Sheet | None:
    """One run of the session with that keyboard."""
    return session.run(
        setup(**more),
        drafts,
        keyboard.ask,
        keyboard.shown.append,
        clock or keyboard.clock,
        lambda: KEY,
        lambda: 80,
    )
