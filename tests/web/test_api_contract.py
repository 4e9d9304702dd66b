"""What the API says of itself, held against what it answers: schemathesis asks, also nonsense.

Source of the description: `/api/openapi.json`, OpenAPI 3.1.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from schemathesis import GenerationMode
from tests.schools import copied
from tests.web.conftest import Clock, Served, served

from standfast.web.guard import MOST_BYTES

ADDRESS = "/api/openapi.json"
EXAMPLES = 60
KNOWN = "01a1471c-3e00-7a11-8b42-00000000a000"
WANTED = {"rubric": "low-trapeze-1", "candidate": "ines-carvalho-teles"}
OPERATIONS = (
    *("GET /api/kits", "GET /api/lesson-kit", "GET /api/sheets", "GET /api/sheets/{sheet}"),
    *("POST /api/records", "POST /api/sheets/{sheet}/confirm"),
)


ASKS = ("GET /api/lesson-kit", "POST /api/records")
"""Those that are told something which can be wrong; any word may be a sheet's."""


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory, accounts_made: Path) -> Iterator[Served]:
    """The school, served for these tests: what does not fit is held, and others would see it."""
    folder = copied(accounts_made, tmp_path_factory.mktemp("api") / "school")
    with served(folder, Clock()) as found:
        yield found


@pytest.fixture(scope="module")
def api(own: Served) -> Any:  # noqa: ANN401 - its types are not told
    """The API as it describes itself."""
    found = schemathesis.openapi.from_url(f"{own.address}{ADDRESS}")
    found.config.generation.update(with_security_parameters=False)
    return found


@pytest.fixture(scope="module")
def signed_in(own: Served) -> dict[str, str]:
    return {"cookie": own.visitor("hana").headers["cookie"]}


def test_every_operation_is_asked(api: Any) -> None:  # noqa: ANN401 - same
    found = {one.ok().label for one in api.get_all_operations()}

    assert found == set(OPERATIONS)


def cases(operation: Any, mode: GenerationMode) -> Iterator[schemathesis.Case[Any]]:  # noqa: ANN401 - same
    """What is told on purpose: each bound and just past it, each part left out, other methods."""
    yield from operation.schema.iter_coverage_cases(
        operation,
        generation_modes=[mode],
        generation_config=operation.schema.config.generation_for(operation=operation),
    )


@pytest.mark.parametrize(
    ("label", "mode"),
    [
        *((label, GenerationMode.POSITIVE) for label in OPERATIONS),
        *((label, GenerationMode.NEGATIVE) for label in ASKS),
    ],
)
def test_the_api_answers_as_it_says(
    api: Any,  # noqa: ANN401 - same
    signed_in: dict[str, str],
    label: str,
    mode: GenerationMode,
) -> None:
    operation = api.find_operation_by_label(label)
    asked = [
        case.call_and_validate(headers=signed_in).status_code for case in cases(operation, mode)
    ]

    @seed(5)
    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=operation.as_strategy(generation_mode=mode))
    def ask(case: schemathesis.Case[Any]) -> None:
        asked.append(case.call_and_validate(headers=signed_in).status_code)

    ask()
    assert max(asked) < 500
    assert mode is GenerationMode.NEGATIVE or set(asked) & {200, 404, 409}


@pytest.mark.parametrize(("login", "status"), [(None, 401), ("office", 403)])
@pytest.mark.parametrize("label", OPERATIONS)
def test_who_may_not_ask_is_told_so_as_the_description_says(
    own: Served,
    api: Any,  # noqa: ANN401 - same
    label: str,
    login: str | None,
    status: int,
) -> None:
    visitor = own.visitor(login)
    operation = api.find_operation_by_label(label)
    method, path = label.split()
    case = operation.Case(path_parameters={"sheet": KNOWN}, method=method)
    address = path.format(sheet=KNOWN)
    answer = visitor.request(method, address, params=WANTED, json={"records": []})

    assert answer.status_code == status
    case.validate_response(answer)


def test_a_large_batch_is_refused_as_the_description_says(own: Served, api: Any) -> None:  # noqa: ANN401 - same
    case = api.find_operation_by_label("POST /api/records").Case(method="POST")
    answer = own.visitor("hana").post("/api/records", content=b"x" * (MOST_BYTES + 1))

    assert answer.status_code == 413
    case.validate_response(answer)
