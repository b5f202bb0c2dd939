"""Access and findings: who may act stands in the record, and only a certifier notes."""

from typing import Any

import pytest

from ledger.books.admitting import access_of
from ledger.books.finding import EntryRefusedError
from ledger.books.inspecting import findings
from ledger.trade.role import Role
from ledger.trade.sentence import BodyError
from tests.world import SCHEME, World, certified, refused

ME = "clerk"
"""Who records in these tests."""


def admitted(**limits: str) -> World:
    world = certified()
    world.record("access.granted", person=ME, roles=["certifier"], **limits)
    return world


def note(world: World, finding: str = "F-1", **more: Any) -> int:  # noqa: ANN401
    body = {"scheme": SCHEME, "grade": "minor nonconformity", "text": "no tare"} | more
    return world.record("finding.noted", finding=finding, **body)


def test_what_was_granted_last_holds() -> None:
    world = certified()
    assert access_of(world.shelf, "b") is None

    world.record("access.granted", person="b", roles=["buyer"])
    world.record("access.granted", person="b", roles=["floor", "buyer"])
    access = access_of(world.shelf, "b")
    assert access is not None
    assert set(access.roles) == {Role.FLOOR, Role.BUYER}

    world.record("access.ended", person="b")
    assert access_of(world.shelf, "b") is None
    with refused("no-access"):
        world.record("access.ended", person="b")
    assert world.rebuilt_alike()


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({"roles": []}, "roles"),
        ({"roles": ["owner"]}, "roles"),
        ({"roles": ["certifier", "buyer"]}, "under another name"),
        ({"roles": ["buyer"], "scheme": "steady"}, "limit what a certifier is shown"),
        (
            {"roles": ["certifier"], "since": "2026-02-01", "until": "2026-01-01"},
            "swap the two dates",
        ),
    ],
)
def test_access_that_makes_no_sense_is_refused(body: dict[str, Any], said: str) -> None:
    with pytest.raises(BodyError, match=said):
        certified().record("access.granted", person="x", **body)


def test_a_finding_is_found_and_settled_once() -> None:
    world = admitted(scheme=SCHEME)
    seq = note(world, about=[{"subject": "contract", "name": "C"}])
    [open_finding] = findings(world.shelf)
    assert (open_finding.noted.seq, open_finding.closed) == (seq, None)

    settled = {"finding": "F-1", "outcome": "answered", "text": "the tare was sent"}
    closing = world.record("finding.closed", **settled)
    [closed] = findings(world.shelf)
    assert closed.closed is not None
    assert closed.closed.seq == closing
    with refused("finding-closed"):
        world.record("finding.closed", **settled)
    with refused("unknown-finding"):
        world.record("finding.closed", **settled | {"finding": "F-2"})
    with refused("name-taken"):
        note(world)
    assert world.rebuilt_alike()


def test_who_is_no_certifier_of_the_scheme_notes_nothing() -> None:
    world = certified()
    with refused("not-a-certifier"):
        note(world)
    world.record("access.granted", person=ME, roles=["compliance"])
    with refused("not-a-certifier"):
        note(world)
    world.record("access.granted", person=ME, roles=["certifier"], scheme="other")
    with refused("scheme-not-shown"):
        note(world)
    world.record("access.granted", person=ME, roles=["certifier"])
    note(world)
    world.record("access.ended", person=ME)
    with refused("not-a-certifier"):
        note(world, "F-2")
    with refused("not-a-certifier"):
        world.record("finding.closed", finding="F-1", outcome="answered", text="x")


def test_a_finding_names_what_is_recorded() -> None:
    world = admitted()
    with refused("unknown-sale"):
        note(world, about=[{"subject": "sale", "name": "none"}])
    with refused("unknown-scheme"):
        note(world, scheme="none")


def test_a_scheme_without_terms_has_no_findings_though_somebody_is_certified() -> None:
    world = admitted()
    world.certify("alder", "longmeadow")

    with refused("unknown-scheme"):
        note(world, scheme="longmeadow")


def test_nobody_corrects_a_finding_or_access() -> None:
    world = admitted()
    seq = note(world)
    for target in (seq, seq - 1):
        with refused("not-correctable"):
            world.void(target)


def test_a_finding_does_not_keep_the_maker_from_correcting() -> None:
    world = admitted()
    hold = world.record(
        "party.registered", party="new", roles=["customer"], country="PE"
    )
    note(world, about=[{"subject": "party", "name": "new"}])
    world.void(hold)
    assert len(list(findings(world.shelf))) == 1
    assert world.rebuilt_alike()


def test_a_finding_under_a_scheme_without_terms_is_refused_with_the_way_out() -> None:
    with pytest.raises(EntryRefusedError, match=r"recorded; correct the name$"):
        note(admitted(), scheme="nobody")
