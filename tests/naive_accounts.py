"""Which account goods count in, and as how many beans, read naively from the terms.

Part of the second reading in `tests.naive`; like it, it imports nothing of the product.
"""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from math import ceil, floor

from tests.naive_time import whole_months_before
from tests.naive_trade import Body, Counting, Entry, Key, Part, Post, grams, only

FORMS = ("bean", "roasted bean", "nib", "liquor", "butter", "cake", "powder")
"""Forms of cocoa, as they come one after the other."""


def family(key: str) -> str:
    """Return an account without the form it is kept for."""
    parts = key.split("|")[:6]
    return "|".join(parts[:5] if parts[5:] == ["all"] else parts)


def form_in(key: str) -> str | None:
    """Return the form that an account is kept for, if it is for one."""
    return "|".join(key.split("|")[6:]) or None


def parted(terms: Body, commodity: str, form: str, on: str) -> Body | None:
    """Return the row by which a form comes out beside another, if it does."""
    rows: dict[str, Body] = {}
    for row in terms.get("joint_outputs", []):
        of = row["of"]
        if row["valid_from"] <= on and (
            of not in rows or rows[of]["valid_from"] <= row["valid_from"]
        ):
            rows[of] = row
    for row in rows.values() if commodity == "cocoa" else ():
        if form in [output["form"] for output in row["outputs"]]:
            return row
    return None


def account_of(terms: Body, on: str, site: str, part: Part) -> Key:
    """Return the account that a part of some goods counts in."""
    rule = terms.get("account", {})
    grown = "organic" if part.organic else "conventional"
    kept = [
        terms["scheme"],
        part.commodity,
        "all" if rule.get("scope") == "group" else site,
        grown if rule.get("match_organic", True) else "all",
        (part.origin or "all") if rule.get("match_origin", False) else "all",
        (part.grade or "all") if rule.get("grades") else "all",
    ]
    if parted(terms, part.commodity, part.form, on) is not None:
        return "account", "|".join([*kept, part.form])
    return "account", family("|".join(kept))


def account_of_lot(terms: Body, about: Body, on: str, form: str) -> Key:
    """Return the account of a received lot, in the form that it has reached."""
    part = Part(
        about["commodity"],
        form,
        Fraction(1),
        about["origin"],
        about["organic"],
        about["grade"],
    )
    return account_of(terms, on, about["site"], part)


class Accounts(Counting):
    """Entries that count, with what the terms say of accounts and factors."""

    def __init__(self) -> None:
        super().__init__()
        self.posts: dict[int, list[Post]] = {}

    def _factor(self, terms: Body, commodity: str, form: str, on: str) -> Fraction:
        joint = parted(terms, commodity, form, on)
        if joint is not None:
            form = joint["of"]
        measured = terms.get("measured_yields", {})
        if commodity == "cocoa" and form in measured.get("forms", []):
            months = whole_months_before(on, measured["window_months"])
            found = self._measured(form, months)
            if found is not None:
                return found
        rows = [
            (row["valid_from"], row)
            for row in terms["conversions"]
            if (row.get("commodity", "cocoa"), row["form"]) == (commodity, form)
            and row["valid_from"] <= on
        ]
        row = max(rows, key=lambda item: str(item[0]))[1]
        if "factor" in row:
            return Fraction(row["factor"])
        return 100 / Fraction(row["yield_percent"])

    def _measured(self, form: str, months: set[str]) -> Fraction | None:
        """Return kilograms of beans behind one of a form, as batches of months gave it."""
        behind = {"bean": Fraction(1)}
        for after in FORMS[1 : FORMS.index(form) + 1]:
            beans, given = Fraction(0), 0
            for _, batch in self._of("batch.made"):
                before = only({self._form(p["lot"]) for p in batch.body["inputs"]})
                made = only({p["form"] for p in batch.body["outputs"]})
                if batch.on[:7] in months and made == after and before in behind:
                    taken = sum(grams(part["mass_kg"]) for part in batch.body["inputs"])
                    beans += behind[before] * taken
                    given += sum(grams(p["mass_kg"]) for p in batch.body["outputs"])
            if given:
                behind[after] = beans / given
        return behind.get(form)

    def _averaging(self, on: str) -> Iterator[Body]:
        """Yield the terms that average percentages on a day."""
        schemes = {e.body["scheme"] for _, e in self._of("terms.published")}
        for scheme in sorted(schemes):
            terms = self._terms(scheme, on)
            if terms is not None and terms.get("window_months"):
                yield terms

    def _moved(self, entry: Entry) -> list[Post]:
        """Move a claim from one account to another."""
        body = entry.body
        terms = self._in_force(body["scheme"], entry.on)
        found = []
        for side, sign in (("from", -1), ("to", 1)):
            about = body[side]
            part = Part(
                body.get("commodity", "cocoa"),
                "bean",
                Fraction(1),
                body.get("origin"),
                about.get("organic", False),
                about.get("grade"),
            )
            site = about.get("site") or self._first_site()
            key = account_of(terms, entry.on, site, part)
            found.append(
                Post(key, entry.on, sign * grams(body["beans_kg"]), "transferred")
            )
        return found

    def _parting(self, slot: int, entry: Entry, draws: Iterable[Post]) -> list[Post]:
        """Part as much as the scarcest form needs, after what was left over before."""
        wanted: dict[str, dict[str, int]] = {}
        for post in draws:
            form = form_in(post.key[1]) if post.key[0] == "account" else None
            if form is not None:
                forms = wanted.setdefault(family(post.key[1]), {})
                forms[form] = forms.get(form, 0) - post.grams
        found = []
        for name, forms in sorted(wanted.items()):
            scheme, commodity = name.split("|")[:2]
            terms = self._in_force(scheme, entry.on)
            row = parted(terms, commodity, min(forms), entry.on)
            assert row is not None
            most, gives = 0, []
            for output in row["outputs"]:
                share = Fraction(output["share"])
                kept = [*name.split("|"), "all"][:6]
                key = "account", "|".join([*kept, output["form"]])
                left = max(0, self._before(key, slot, entry.on))
                short = forms.get(output["form"], 0) - left
                most = max(most, ceil(short / share))
                gives.append((key, share))
            found.append(Post(("account", name), entry.on, -most, "converted"))
            found += [
                Post(key, entry.on, floor(most * share), "converted")
                for key, share in gives
            ]
        return found

    def _before(self, key: Key, slot: int, on: str) -> int:
        """Return what a book holds just before an entry."""
        return sum(
            post.grams
            for other, posts in self.posts.items()
            for post in posts
            if other != slot
            and post.key == key
            and (post.on < on or (post.on == on and other < slot))
        )
