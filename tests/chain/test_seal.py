import base64
import json
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, date, datetime
from itertools import count

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger.chain.canonical import MAX_DEPTH, JsonValue, canonical_bytes
from ledger.chain.entry import GENESIS_PREV, Entry, entry_bytes, parse_entry
from ledger.chain.seal import (
    Disclosure,
    Hidden,
    disclosure_digest,
    open_sealed,
    parse_disclosure,
    seal,
)
from ledger.errors import InputError, LedgerError, SealError
from tests.chain import vectors
from tests.chain.strategies import BODIES, JSON_VALUES

BODY: Mapping[str, JsonValue] = {
    "lot": "B-7",
    "customer": {"name": "Möbius", "town": "Ulm"},
    "lines": [{"bars": 12, "price": "4.20"}, {"bars": 24, "price": "3.90"}],
}


def salts() -> Callable[[], bytes]:
    """Salts that are long enough and never the same, though not random."""
    numbers = count()
    return lambda: next(numbers).to_bytes(16, "big")


def base64url(text: str) -> str:
    return base64.urlsafe_b64encode(text.encode()).rstrip(b"=").decode()


def written(*parts: JsonValue) -> str:
    """A disclosure written by other code than ours."""
    return base64url(json.dumps(parts))


def sealing(*disclosures: str) -> dict[str, JsonValue]:
    return {"_sd": [disclosure_digest(text) for text in disclosures]}


def members(value: JsonValue, path: str = "") -> Iterator[str]:
    """The path of every member of every object in a value."""
    steps: list[tuple[str, JsonValue]] = []
    if isinstance(value, dict):
        steps = list(value.items())
        yield from (f"{path}{name}" for name, _ in steps)
    elif isinstance(value, list):
        steps = [(str(place), item) for place, item in enumerate(value)]
    for step, child in steps:
        yield from members(child, f"{path}{step}.")


# ---- Published figures ----


# RFC 9901, sections 4.2.1 to 4.2.3.
@pytest.mark.parametrize(
    ("disclosure", "digest"),
    [
        (vectors.NAME_DISCLOSURE, vectors.NAME_DIGEST),
        (vectors.ELEMENT_DISCLOSURE, vectors.ELEMENT_DIGEST),
        (vectors.ADDRESS_DISCLOSURE, vectors.ADDRESS_DIGEST),
    ],
)
def test_digests_are_those_published(disclosure: str, digest: str) -> None:
    assert disclosure_digest(disclosure) == digest


# RFC 9901, section 4.2.1: one content, four spellings, each with its own digest.
@pytest.mark.parametrize(
    "text",
    [
        vectors.NAME_DISCLOSURE,
        vectors.NAME_ESCAPED,
        vectors.NAME_COMPACT,
        vectors.NAME_IN_LINES,
    ],
)
def test_every_published_spelling_opens_under_its_own_digest(text: str) -> None:
    disclosure = Disclosure(vectors.NAME_SALT, "family_name", "Möbius")

    opened = open_sealed({"given_name": "Alice", **sealing(text)}, [text])

    assert parse_disclosure(text) == disclosure
    assert opened.body == {"given_name": "Alice", "family_name": "Möbius"}
    assert not opened.hidden


def test_another_spelling_of_a_disclosure_is_not_the_disclosure() -> None:
    body = {"_sd": [vectors.NAME_DIGEST]}

    with pytest.raises(SealError, match="'family_name' matches no digest"):
        open_sealed(body, [vectors.NAME_COMPACT])


# RFC 9901, section 4.2.1: the spelling without blanks is the canonical one.
def test_sealing_gives_the_published_disclosure() -> None:
    salt = base64.urlsafe_b64decode(vectors.NAME_SALT + "=")

    sealed = seal(
        {"given_name": "Alice", "family_name": "Möbius"},
        ["family_name"],
        new_salt=lambda: salt,
    )

    assert sealed.disclosures == {"family_name": vectors.NAME_COMPACT}
    assert sealed.body == {"given_name": "Alice", **sealing(vectors.NAME_COMPACT)}


# RFC 9901, section 6.3: an address is sealed, and so is each of its members.
def test_the_published_nested_disclosures_open() -> None:
    body = {"sub": "6c5c0a49", "_sd": [vectors.ADDRESS_DIGEST]}
    disclosures = [
        vectors.STREET_DISCLOSURE,
        vectors.LOCALITY_DISCLOSURE,
        vectors.REGION_DISCLOSURE,
        vectors.COUNTRY_DISCLOSURE,
        vectors.ADDRESS_DISCLOSURE,
    ]

    assert open_sealed(body, disclosures).body == {
        "sub": "6c5c0a49",
        "address": vectors.ADDRESS,
    }

    region_only = open_sealed(
        body, [vectors.ADDRESS_DISCLOSURE, vectors.REGION_DISCLOSURE]
    )

    assert region_only.body["address"] == {"region": "Sachsen-Anhalt"}
    assert region_only.hidden == (Hidden("address", 3),)
    with pytest.raises(SealError, match="'region' matches no digest"):
        open_sealed(body, [vectors.REGION_DISCLOSURE])


# ---- Sealing and opening ----


def test_members_are_sealed_wherever_they_stand() -> None:
    paths = ["customer.name", "lines.1.price", "lot"]

    sealed = seal(BODY, paths, new_salt=salts())

    assert sorted(sealed.disclosures) == paths
    assert sealed.body == {
        **sealing(sealed.disclosures["lot"]),
        "customer": {"town": "Ulm", **sealing(sealed.disclosures["customer.name"])},
        "lines": [
            {"bars": 12, "price": "4.20"},
            {"bars": 24, **sealing(sealed.disclosures["lines.1.price"])},
        ],
    }


def test_what_is_sealed_is_hidden_until_it_is_disclosed() -> None:
    sealed = seal(
        BODY,
        ["customer.name", "customer.town", "lines.1.price"],
        new_salt=salts(),
    )

    opened = open_sealed(sealed.body, [sealed.disclosures["customer.town"]])

    assert b"M\xc3\xb6bius" not in canonical_bytes(sealed.body)
    assert opened.body["customer"] == {"town": "Ulm"}
    assert opened.hidden == (Hidden("customer", 1), Hidden("lines.1", 1))
    assert open_sealed(sealed.body, sealed.disclosures.values()).body == BODY


def test_the_order_of_digests_does_not_give_away_that_of_members() -> None:
    body = {str(number): number for number in range(20)}

    sealed = seal(body, body.keys(), new_salt=salts())

    digests = [disclosure_digest(text) for text in sealed.disclosures.values()]
    assert digests != sorted(digests)
    assert sealed.body == {"_sd": sorted(digests)}


@given(BODIES, st.data())
def test_opening_undoes_sealing(
    body: Mapping[str, JsonValue], data: st.DataObject
) -> None:
    before = canonical_bytes(body)
    paths = data.draw(st.sets(st.sampled_from(sorted(members(body)) or ["?"])))
    paths &= set(members(body))

    sealed = seal(body, paths, new_salt=salts())
    texts = data.draw(st.permutations(list(sealed.disclosures.values())))
    opened = open_sealed(sealed.body, texts)

    assert canonical_bytes(opened.body) == before
    assert not opened.hidden
    assert canonical_bytes(body) == before
    assert sealed.disclosures.keys() == paths


@given(st.sets(st.sampled_from(sorted(members(dict(BODY)))), min_size=1), st.data())
def test_every_digest_is_opened_or_counted_as_hidden(
    paths: set[str], data: st.DataObject
) -> None:
    sealed = seal(BODY, paths, new_salt=salts())
    shown = data.draw(st.sets(st.sampled_from(sorted(paths))))
    # What lies inside a hidden member cannot be shown, nor is it counted.
    reachable = {
        path
        for path in paths
        if not any(path.startswith(f"{outer}.") for outer in paths - shown)
    }

    opened = open_sealed(
        sealed.body, [sealed.disclosures[path] for path in shown & reachable]
    )

    hidden = sum(found.count for found in opened.hidden)
    assert hidden == len(reachable - shown)
    assert b"_sd" not in canonical_bytes(opened.body)


def test_erasing_a_disclosure_leaves_the_entry_as_it_was() -> None:
    """The bytes that the chain holds do not depend on what is kept beside them."""
    sealed = seal(BODY, ["customer.name", "lot"], new_salt=salts())
    entry = Entry(
        seq=0,
        prev=GENESIS_PREV,
        kind="ledger.opened",
        occurred_on=date(2026, 3, 2),
        recorded_at=datetime(2026, 3, 4, tzinfo=UTC),
        recorded_by="u1",
        body=sealed.body,
    )
    recorded = parse_entry(entry_bytes(entry)).body

    opened = open_sealed(recorded, [sealed.disclosures["lot"]])

    assert opened.body["lot"] == "B-7"
    assert opened.body["customer"] == {"town": "Ulm"}
    assert opened.hidden == (Hidden("customer", 1),)


def test_an_equal_value_sealed_twice_has_two_digests() -> None:
    sealed = seal(
        {"a": {"price": "4.20"}, "b": {"price": "4.20"}},
        ["a.price", "b.price"],
        new_salt=salts(),
    )

    assert sealed.body["a"] != sealed.body["b"]


# ---- What sealing refuses ----


@pytest.mark.parametrize(
    "path",
    [
        "",
        "grower",
        "customer.age",
        "lines",
        "lines.2.price",
        "lines.0",
        "lot.name",
        "lines.-1.price",
    ],
)
def test_only_members_of_objects_can_be_sealed(path: str) -> None:
    body = {name: value for name, value in BODY.items() if name != path}

    with pytest.raises(InputError, match="the body has no member"):
        seal(body, [path], new_salt=salts())


@pytest.mark.parametrize("name", ["_sd", "_sd_alg", "..."])
def test_reserved_names_cannot_be_recorded(name: str) -> None:
    with pytest.raises(InputError, match="kept for sealing"):
        seal({"lines": [{"a": {name: 1}}]}, [], new_salt=salts())


def test_a_body_outside_the_profile_is_refused() -> None:
    with pytest.raises(InputError, match="ä"):
        seal({"ä": 1}, ["ä"], new_salt=salts())


# RFC 9901, section 9.3: at least 128 bits, and a new salt for each claim.
def test_a_salt_that_is_short_or_comes_again_is_refused() -> None:
    with pytest.raises(InputError, match="the salt for lot is shorter"):
        seal(BODY, ["lot"], new_salt=lambda: b"x" * 15)
    with pytest.raises(InputError, match="was used before"):
        seal(BODY, ["lot", "customer"], new_salt=lambda: b"x" * 16)


# ---- What opening refuses ----


# RFC 9901, section 7.1, step 4: no digest may occur more than once.
def test_a_repeated_digest_is_refused() -> None:
    text = written("salt", "lot", "B-7")
    inner: dict[str, JsonValue] = {"a": sealing(text), "b": [sealing(text)]}

    bodies = (sealing(text, text), {**sealing(text), **inner}, inner)
    for body in bodies:
        for given_texts in ([], [text]):
            with pytest.raises(SealError, match="repeats the digest"):
                open_sealed(body, given_texts)


# RFC 9901, section 7.1, step 5: every disclosure must be referred to.
def test_a_disclosure_of_nothing_here_is_refused() -> None:
    sealed = seal(BODY, ["lot"], new_salt=salts())
    stranger = written("salt", "lot", "B-8")

    with pytest.raises(SealError, match="'lot' matches no digest in this entry"):
        open_sealed(sealed.body, [*sealed.disclosures.values(), stranger])


def test_a_disclosure_given_twice_is_refused() -> None:
    text = written("salt", "lot", "B-7")

    with pytest.raises(SealError, match="'lot' was given twice"):
        open_sealed(sealing(text), [text, text])


def test_a_disclosure_never_takes_the_place_of_a_member() -> None:
    one, other = written("salt", "lot", "B-7"), written("tlas", "lot", "B-8")

    with pytest.raises(SealError, match=r"a second a\.lot"):
        open_sealed({"a": {"lot": "B-9", **sealing(one)}}, [one])
    with pytest.raises(SealError, match="a second lot"):
        open_sealed(sealing(one, other), [one, other])


@pytest.mark.parametrize("name", ["_sd", "_sd_alg", "...", "Straße"])
def test_a_disclosure_of_a_name_that_cannot_be_is_refused(name: str) -> None:
    text = written("salt", name, "B-7")

    with pytest.raises(SealError, match="which cannot be one"):
        open_sealed(sealing(text), [text])


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("", id="empty"),
        pytest.param(vectors.NAME_DISCLOSURE + "=", id="padding"),
        pytest.param(vectors.NAME_DISCLOSURE + "\n", id="line end"),
        pytest.param(
            vectors.NAME_DISCLOSURE[:4] + " " + vectors.NAME_DISCLOSURE[4:], id="blank"
        ),
        pytest.param("WyJz+A", id="plain base64"),
        pytest.param("WyJzI", id="impossible length"),
        pytest.param("Straße", id="not ascii"),
        pytest.param(vectors.ELEMENT_DISCLOSURE, id="of an array element"),
        pytest.param(written("salt", "lot"), id="no value"),
        pytest.param(written("salt", "lot", 1, 2), id="one part more"),
        pytest.param(written(1, "lot", 1), id="salt not text"),
        pytest.param(written("salt", 1, 1), id="name not text"),
        pytest.param(written(), id="nothing"),
        pytest.param(base64url('{"salt":1}'), id="object"),
        pytest.param(base64url('["salt","mass_kg",1.5]'), id="float"),
        pytest.param(base64url('["salt","a",{"b":1,"b":2}]'), id="repeated member"),
        pytest.param(base64url('["salt","lot","B-7"'), id="broken json"),
        pytest.param("_____w", id="not utf-8"),
    ],
)
def test_a_malformed_disclosure_is_refused(text: str) -> None:
    with pytest.raises(SealError, match="a disclosure"):
        parse_disclosure(text)
    with pytest.raises(SealError, match="a disclosure"):
        open_sealed({}, [text])


def test_a_digest_is_taken_of_ascii_only() -> None:
    with pytest.raises(SealError, match="not base64url"):
        disclosure_digest("Straße")


@pytest.mark.parametrize(
    "digests", ["text", None, 1, {"a": "b"}, [1], ["short"], [["a"]], ["=" * 43]]
)
def test_what_cannot_be_digests_is_refused(digests: JsonValue) -> None:
    with pytest.raises(SealError, match=r"a\._sd (is not an array|holds something)"):
        open_sealed({"a": {"_sd": digests}}, [])


@pytest.mark.parametrize("name", ["_sd_alg", "..."])
def test_a_reserved_name_in_a_recorded_body_is_refused(name: str) -> None:
    with pytest.raises(SealError, match=r"a\.0.* uses a reserved name"):
        open_sealed({"a": [{name: "sha-256"}]}, [])


def test_disclosures_cannot_nest_without_end() -> None:
    """Each holds the digest of the one made before it, a long way down."""
    texts = [written("salt", "a", 0)]
    while len(texts) <= MAX_DEPTH:
        texts.append(written("salt", "a", sealing(texts[-1])))

    assert open_sealed(sealing(texts[MAX_DEPTH - 1]), texts[:MAX_DEPTH]).body
    with pytest.raises(SealError, match="nested more than"):
        open_sealed(sealing(texts[MAX_DEPTH]), texts)


@pytest.mark.parametrize(
    "wrap", [lambda value: [value], lambda value: {"a": value}], ids=["array", "object"]
)
def test_a_body_cannot_nest_without_end(wrap: Callable[[JsonValue], JsonValue]) -> None:
    value: JsonValue = 1
    for _ in range(MAX_DEPTH - 1):
        value = wrap(value)
    body: dict[str, JsonValue] = {"lot": value}

    assert open_sealed(body, []).body == body
    with pytest.raises(SealError, match="nested more than"):
        open_sealed({"lot": wrap(value)}, [])


@given(
    st.one_of(
        st.text(),
        st.binary().map(
            lambda raw: base64.urlsafe_b64encode(raw).rstrip(b"=").decode()
        ),
        st.lists(JSON_VALUES, max_size=4).map(lambda parts: written(*parts)),
    )
)
def test_reading_any_text_ends_in_a_disclosure_or_our_error(text: str) -> None:
    try:
        disclosure = parse_disclosure(text)
    except LedgerError:
        return
    opened = open_sealed(sealing(text), [text])
    assert opened.body == {disclosure.name: disclosure.value}


@given(BODIES, st.lists(st.text(max_size=5), max_size=2))
def test_opening_anything_ends_well_or_in_our_error(
    body: dict[str, JsonValue], texts: list[str]
) -> None:
    try:
        opened = open_sealed(body, texts)
    except LedgerError:
        return
    assert opened.body == body
