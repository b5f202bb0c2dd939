"""Closing a period on pages: what stands in the way, what lapses, signed in one's name."""

from ledger.trade.role import Role
from tests.web.conftest import Visit

NEXT = {
    "period": "2025-26",
    "start": "2025-10-01",
    "end": "2026-09-30",
    "on": "2026-10-05",
    "note": "stocktake of September looked through",
}


def test_the_form_offers_the_period_that_follows(reader: Visit) -> None:
    page = reader(Role.COMPLIANCE).get("/periods").text

    for field in ("period", "start", "end"):
        assert f'name="{field}"' in page
        assert f'value="{NEXT[field]}"' in page
    assert "2024-25" in page
    assert "officer-1" in page


def test_what_closing_does_is_told_before_it_is_done(visitor: Visit) -> None:
    visit = visitor(Role.COMPLIANCE)

    told = visit.submit("/periods", do="foresee", **NEXT).text
    assert "It would be recorded" in told
    assert visit.get("/periods?as=json").json()[-1]["period"] == "2024-25"
    done = visit.submit("/periods", do="record", **NEXT)

    assert done.status_code == 303
    last = visit.get("/periods?as=json").json()[-1]
    assert (last["period"], last["signed_off_by"]) == ("2025-26", "compliance-1")


def test_a_gap_and_a_period_that_is_not_over_are_refused_by_field(
    visitor: Visit,
) -> None:
    visit = visitor(Role.COMPLIANCE)

    gap = visit.submit("/periods", do="record", **{**NEXT, "start": "2025-11-01"})
    early = visit.submit("/periods", do="record", **{**NEXT, "end": "2026-12-31"})
    nonsense = visit.submit("/periods", do="record", **{**NEXT, "on": "soon"})

    assert gap.status_code == 409
    assert "start on 2025-10-01" in gap.text
    assert 'aria-describedby="start-wrong"' in gap.text
    assert NEXT["note"] in gap.text
    assert early.status_code == 409
    assert "once it is over" in early.text
    assert nonsense.status_code == 422


def test_only_the_compliance_officer_closes(reader: Visit) -> None:
    for role in (Role.BUYER, Role.FLOOR, Role.CERTIFIER, Role.ADMINISTRATOR):
        assert reader(role).get("/periods").status_code == 403
        assert reader(role).submit("/periods", do="record", **NEXT).status_code == 403
