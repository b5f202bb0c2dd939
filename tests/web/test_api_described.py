"""What the API says of itself holds, whatever a program sends.

Schemathesis (https://schemathesis.readthedocs.io) makes requests from the OpenAPI
description, good ones and bad ones, and holds every answer against it. A longer search is
`make fuzz-api`.
"""

from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any, Final

import pytest
import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, settings
from schemathesis.config import SchemathesisConfig
from schemathesis.generation.case import Case
from schemathesis.specs.openapi.checks import (
    negative_data_rejection,
    positive_data_acceptance,
)

from ledger.errors import ConflictError
from ledger.trade.role import Role
from ledger.web.api.calls import CALLS
from ledger.web.api.described import described
from ledger.web.api.pace import Pace, Paces
from ledger.web.app import make_app
from ledger.web.office import Office
from tests.web.conftest import open_copy
from tests.web.programs import BASE, token_for

SEARCHING: Final = settings.get_current_profile_name() == "fuzz-api"
EXAMPLES: Final = 300 if SEARCHING else 5


@pytest.fixture(scope="module")
def fuzzed(
    scenario_ledger: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Office]:
    """A copy of the scenario's ledger that requests may spoil."""
    with ExitStack() as stack:
        # What is in a pack is tried elsewhere, and takes long to make.
        patched = stack.enter_context(pytest.MonkeyPatch.context())
        patched.setattr("ledger.web.pack_making.make_pack", no_pack)
        yield open_copy(scenario_ledger, tmp_path_factory.mktemp("fuzzed"), stack)


def no_pack(*_: object, **__: object) -> None:
    raise ConflictError("no pack is made in this test")


@pytest.fixture(scope="module")
def token(fuzzed: Office) -> str:
    return token_for(fuzzed, Role.COMPLIANCE)


@pytest.fixture(scope="module")
def app(fuzzed: Office) -> FastAPI:
    at_ease = Pace(fuzzed.now, most=1_000_000)
    return make_app(fuzzed, paces=Paces(at_ease, at_ease))


# Going through every value of every kind of entry takes minutes; random ones do.
NOT_EACH_VALUE: Final = SchemathesisConfig.from_dict(
    {
        "operations": [
            {"include-name": name, "phases": {"coverage": {"enabled": False}}}
            for name in ("POST /entries", "POST /preview/entries")
        ]
    }
)
description = schemathesis.openapi.from_dict(described(CALLS), config=NOT_EACH_VALUE)


def is_sent(value: object) -> bool:
    """Tell whether a value takes room in an address; an empty list or object does not."""
    if isinstance(value, dict):
        return any(is_sent(part) for part in value.values())
    return not isinstance(value, list) or any(is_sent(part) for part in value)


@description.parametrize()
@settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize=not SEARCHING,
    print_blob=SEARCHING,
    database=None,
    suppress_health_check=list(HealthCheck),
)
def test_every_answer_is_as_described(
    case: Case[Any], app: FastAPI, token: str
) -> None:
    # The models of bodies read more than their schemas say: a whole number for a mass,
    # and figures that were typed with a unit.
    reads_more = "kind" in str(case.body)
    not_asked = not all(is_sent(value) for value in case.query.values())
    not_refused = [negative_data_rejection] if reads_more or not_asked else []
    case.operation.app = case.operation.schema.app = app
    case.call_and_validate(
        base_url=BASE,
        headers={"Authorization": f"Bearer {token}"},
        # The rules of the trade refuse much that a schema cannot tell.
        excluded_checks=[positive_data_acceptance, *not_refused],
    )
