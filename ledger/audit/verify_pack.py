"""Verify an audit pack with Python alone: read this file, then `python verify.py PACK [--key LINE] [--last NOTE]`.

PACK is the zip, or the folder it unpacks to; LINE the maker's public key, from the maker's own hand; NOTE a file with the last
checkpoint that you kept. Nothing is installed, fetched or written. The file explains the format from top to bottom; 6 and 7 are
a second reading without any code of the program. The status is 0 if all that was checked holds, 3 if not, 2 if there is no pack
that can be read. A verifier that only comes with the pack proves nothing: get it from the release, and compare its SHA-256.
"""
# fmt: off
# ruff: noqa: C901, D101, D102, D103, E501, E701, PLR0912, PLR0915, PLR1702, PLR2004, PLR6301, RET502, RET503, SIM905, T201

import argparse
import base64
import hashlib
import json
import re
import sys
import zipfile
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta
from fractions import Fraction
from itertools import accumulate, groupby
from math import ceil, floor
from pathlib import Path
from typing import Any, NamedTuple, NoReturn

VERSION = 1
ENTRIES, SHOWN, HEAD, SCOPE = "data/entries.jsonl", "data/disclosures.jsonl", "data/tree-head.json", "data/figures/scope.json"
DATED = ("as_of", "made_at", "from", "until")
INFO, MANIFEST, TAGS = "bag-info.txt", "manifest-sha256.txt", "tagmanifest-sha256.txt"
ODD = (ArithmeticError, AttributeError, LookupError, RecursionError, TypeError, ValueError)
Json = Any
class Refused(ValueError): ...  # noqa: N818 - something cannot be as it is said; the sentence says why
class Beyond(Exception): ...  # noqa: N818 - it may well be, but is not recomputed here

# 1. FILES. A pack is a folder, or a zip of one folder in which every file is stored as it is.
class Pack:  # the files of a pack by name: where each lies, where it begins, how long it is
    def __init__(self, path: Path) -> None:
        self.files: dict[str, tuple[Path, int, int]] = {}
        for found in path.rglob("*"):
            if found.is_symlink(): raise Refused(f"{found} is a link, which no pack holds")
            if found.is_file(): self.files[found.relative_to(path).as_posix()] = (found, 0, found.stat().st_size)
        try: members = zipfile.ZipFile(path).infolist() if path.is_file() else []
        except (NotImplementedError, zipfile.BadZipFile, *ODD) as error: raise Refused(f"this is no zip: {error}") from error
        for one in members:
            name, begin = one.filename.partition("/")[2], one.header_offset + 30 + len(one.filename)
            if one.header_offset < 0 or one.flag_bits & 1 or one.compress_type or name in self.files:
                raise Refused(f"{name} is packed, secret or there twice; unpack the zip")
            self.files[name] = (path, begin, one.file_size)
    def whole(self, name: str) -> bytes:  # the bytes of a file, none if it is not there
        if name not in self.files: return b""
        path, begin, size = self.files[name]
        with path.open("rb") as file: return file.read(size) if file.seek(begin) >= 0 else b""

# 2. THE BAG (RFC 8493). Each file below data/ is listed with its digest in MANIFEST, what stands beside data/ in TAGS.
# Whoever changes a file can change the lists too: a bag shows accidents; the chain, and a checkpoint kept, show more.
BESIDE = ("README.txt", INFO, "bagit.txt", "by-hand.txt", "look.html", MANIFEST, "verify.py")
FIGURES = {
    "balances": "scheme,commodity,site,production,origin,grade,form,received_kg,sold_kg,returned_kg,written_off_kg,converted_kg,"
                "transferred_kg,lapsed_kg,corrected_kg,closing_kg,lowest_kg,lowest_on",
    "stock": "lot,form,site,on_hand_kg", "sampled-sales": "sale,entry,ticket",
    "dues": "contract,shipment,duty,scheme,payee,standing,cooperative,entry,due_on,currency,due,paid,outstanding,late_days"}
NEEDED = {ENTRIES, SHOWN, HEAD, SCOPE, *(f"data/figures/{name}.csv" for name in FIGURES)}
OTHER = re.compile(r"data/(reports/[a-z0-9][a-z0-9_-]{0,79}(\.[a-z0-9]{1,9})?|documents/[0-9a-f]{64}|"
                   r"(checkpoints/N\.note|consistency/N-N\.txt|timestamps/N\.tsr))".replace("N", "[1-9][0-9]{0,15}"))
def check_bag(pack: Pack, digests: dict[str, str], info: str | None) -> Iterator[str]:  # yields what does not hold
    payload = sorted(name for name in digests if name.startswith("data/"))
    for list_name, listing in ((MANIFEST, payload), (TAGS, [name for name in BESIDE if name in digests])):
        lines, listed = {n: f"{digests[n]}  {n}\n".encode() for n in listing}, pack.whole(list_name)
        if listed != b"".join(lines.values()): yield f"{list_name} is not the list of the files"
        yield from (f"{n} has not the digest in {list_name}" for n, line in lines.items() if line not in listed)
    known = {TAGS, *BESIDE, *NEEDED}
    yield from (f"{name} is missing" for name in sorted(known - digests.keys()))
    yield from (f"{n} has no place in a pack" for n in sorted(digests.keys() - known) if not OTHER.fullmatch(n))
    for name, text in ((INFO, info), ("bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")):
        if text and pack.whole(name) != text.encode(): yield f"{name} does not follow from the pack"

# 3. ENTRIES, CHAIN AND TREE. ENTRIES holds one entry a line, as canonical JSON (RFC 8785). The digest of an entry is
# SHA-256(0x00, line). Each entry names that of the one before in "prev", and the digests are the leaves of a Merkle
# tree (RFC 9162, 2.1.1). A line of 64 hexadecimal digits is the digest of an entry that the pack does not show.
FORM = re.compile(rb'\{"body":\{.*\},"kind":"[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)*","occurred_on":"[0-9-]{10}",'
                  rb'"prev":"[0-9a-f]{64}","recorded_at":"[0-9-]{10}T[0-9:]{8}\.[0-9]{6}Z",'
                  rb'"recorded_by":"(?!").*","seq":[0-9]+\}', re.DOTALL)

Entry = NamedTuple("Entry", [("seq", int), ("kind", str), ("on", str), ("at", str), ("body", Json)])  # noqa: UP014
def canonical(raw: bytes) -> Json:  # what canonical JSON says; any other form of it is refused
    value = json.loads(raw.decode(), parse_float=_not_here, parse_constant=_not_here)
    text = json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    if text.encode() != raw or not _in_profile(value, 1): raise Refused("the JSON is not as entries have it")
    return value
def _not_here(text: str) -> NoReturn: raise Refused(f"{text} is no number that an entry may hold")
def _in_profile(value: Json, depth: int) -> bool:
    if isinstance(value, dict) and not all(map(str.isascii, value)): return False
    if not isinstance(value, dict | list): return not isinstance(value, int) or abs(value) < 1 << 53
    return depth <= 32 and all(_in_profile(part, depth + 1) for part in (value.values() if isinstance(value, dict) else value))
def parse_entry(raw: bytes) -> Json:  # the seven members of an entry
    found = canonical(raw)
    if not FORM.fullmatch(raw) or len(found) != 7: raise Refused("the line is no entry")
    return found | {"days": (date.fromisoformat(found["occurred_on"]), datetime.fromisoformat(found["recorded_at"][:-1]))}
def grow(peaks: list[bytes], size: int, leaf: bytes) -> None:  # adds a leaf to a tree of a size, kept as the
    while size & 1:  # roots of its complete subtrees; each trailing 1 of the size is one that the leaf completes
        leaf, size = hashlib.sha256(b"\1" + peaks.pop() + leaf).digest(), size >> 1
    peaks.append(leaf)
def root_of(peaks: list[bytes]) -> str:  # the root of a tree, in hexadecimal
    root = peaks[-1] if peaks else hashlib.sha256().digest()
    for left in reversed(peaks[:-1]): root = hashlib.sha256(b"\1" + left + root).digest()
    return root.hex()

# 4. SEALED VALUES (RFC 9901). A sealed member leaves its object; the digest of its disclosure takes its place in "_sd". A
# disclosure is the base64url of a JSON array of salt, name and value; its digest that of SHA-256 over the text.
def open_sealed(body: Json, texts: list[str]) -> tuple[Json, int]:  # the body opened, and how much stays sealed
    given, seen = dict[str, Json](), list[str]()
    for text in texts:
        raw = base64.b64decode(text + "=" * (-len(text) % 4), b"-_", validate=True)
        salt, name, value = json.loads(raw, parse_float=_not_here)
        if not isinstance(salt + name, str) or name in {"_sd", "_sd_alg", "..."}: raise Refused("that is never sealed")
        given[sealed_digest(text)] = (name, value)
    opened = _opened(body, given, seen)
    if given.keys() - set(seen) or len(given) < len(texts) or len(set(seen)) < len(seen):
        raise Refused("a disclosure belongs to no digest of its entry, or stands twice")
    return opened, len(seen) - len(given)
def sealed_digest(text: str) -> str: return base64.urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).decode().rstrip("=")
def _opened(value: Json, given: dict[str, Json], seen: list[str]) -> Json:
    if isinstance(value, list): return [_opened(part, given, seen) for part in value]
    if not isinstance(value, dict): return value
    found = {name: _opened(part, given, seen) for name, part in value.items() if name != "_sd"}
    for digest in value.get("_sd", ()):
        seen.append(digest)
        name, inner = given.get(digest, (None, None))
        if name in found: raise Refused("a disclosure names a member that is there")
        found |= {name: _opened(inner, given, seen)} if name else {}
    return found

# 5. CHECKPOINTS. A checkpoint is the tree head as a signed text (C2SP tlog-checkpoint, signed-note): origin, size, root in
# base64, an empty line, a line for each signature. A key is one line, NAME+HASH+BASE64. Ed25519 is worked out in Python.
P, ORDER = 2**255 - 19, 2**252 + 27742317777372353535851937790883648493
D, ROOT = -121665 * pow(121666, -1, P) % P, pow(2, (P - 1) // 4, P)
def _plus(one: tuple[int, int], other: tuple[int, int]) -> tuple[int, int]:
    (a, b), (c, d) = one, other
    twist, x, y = D * a * b * c * d, a * d + b * c, b * d + a * c
    return x * pow(1 + twist, -1, P) % P, y * pow(1 - twist, -1, P) % P
def _times(scalar: int, point: tuple[int, int]) -> tuple[int, int]:
    half = _times(scalar >> 1, _plus(point, point)) if scalar else (0, 1)
    return _plus(half, point) if scalar & 1 else half
def _point(raw: bytes) -> tuple[int, int]:
    y, sign = int.from_bytes(raw, "little") & (1 << 255) - 1, raw[31] >> 7
    square = (y * y - 1) * pow(D * y * y + 1, -1, P) % P
    x = pow(square, (P + 3) // 8, P)
    x = x if x * x % P == square else x * ROOT % P
    if y >= P or x * x % P != square or (sign and not x): raise Refused("no point of the curve")
    return (x if x & 1 == sign else P - x), y
def ed25519_holds(public: bytes, signature: bytes, message: bytes) -> bool:  # RFC 8032, 5.1.7
    scalar = int.from_bytes(signature[32:], "little")
    if len(public) != 32 or len(signature) != 64 or scalar >= ORDER: return False
    hashed = hashlib.sha512(signature[:32] + public + message).digest()
    try:
        key = _times(int.from_bytes(hashed, "little") % ORDER, _point(public))
        base = _point((4 * pow(5, -1, P) % P).to_bytes(32, "little"))
        return _times(scalar, base) == _plus(_point(signature[:32]), key)
    except Refused: return False
def signed_by(note: str, line: str) -> bool:  # a signature of the key that fails is refused
    name, stated, encoded = line.split("+", 2)
    key, (text, _, below) = base64.b64decode(encoded), note.rpartition("\n\n")
    hashed = hashlib.sha256(name.encode() + b"\n" + key).digest()[:4]
    if len(key) != 33 or key[0] != 1 or hashed.hex() != stated or _times(8, _point(key[1:])) == (0, 1): raise Refused(f"{line} is no key")
    found = re.findall(f"(?m)^\N{EM DASH} {re.escape(name)} (.*)$", below)
    if any(base64.b64encode(base64.b64decode(one)).decode() != one for one in found): raise Refused("its base64 is not as it is written")
    mine = [raw for raw in map(base64.b64decode, found) if raw[:4] == hashed]
    if not note.endswith("\n") or not all(ed25519_holds(key[1:], one[4:], (text + "\n").encode()) for one in mine): raise Refused("it does not hold")
    return bool(mine)

# 6. THE BOOKS. An entry counts in its place; a correction takes what counts in a place out, or puts another there.
# What counts moves grams in stocks (by lot) and in accounts (by scheme, commodity, site, production, origin; in beans).
# After a period is closed, differences land later and old receipts lapse: then only what accounts close at is read here.
Key = tuple[str, str]
NAMED = {"ledger.opened": "organisation", "party.registered": "party", "contract.signed": "contract", "sale.dispatched": "sale",
         "shipment.dispatched": "shipment", "recipe.published": "recipe"}
GIVEN = {"shipment.received": "lots", "batch.made": "outputs"}
STAYS = """period.closed checkpoint.signed key.rotated key.revoked disclosure.erased access.granted access.ended finding.noted finding.closed""".split()
STOPS = ("certificate.suspended", "certificate.withdrawn", "certificate.reinstated")
KNOWN = {*NAMED, *GIVEN, *STAYS, *STOPS, *"""certificate.recorded terms.published limits.published quote.recorded
    rate.recorded price.fixed advance.requested payment.made lot.moved lot.counted lot.written_off hold.placed hold.released
    sale.returned document.attached ledger.opened correction""".split()}

Post = NamedTuple("Post", [("on", str), ("slot", int), ("grams", int), ("cause", str)])  # noqa: UP014
def grams(kg: str) -> int:  # kilograms as text in whole grams
    if not re.fullmatch(r"[0-9]{1,10}(\.[0-9]{1,3})?", kg): raise Refused(f"{kg} is no mass")
    return int(Fraction(kg) * 1000)
def latest(rows: Iterable[Json], on: str) -> Json:  # the last row that is valid from a day or before
    valid = [row for row in rows if row["valid_from"] <= on]
    if not valid: raise Refused(f"nothing that was published is in force on {on}")
    return max(valid, key=lambda row: row["valid_from"])
def account(terms: Json, part: Json, site: str) -> Key:  # the account that a part of a lot counts in
    rule, grown = terms.get("account", {}), "organic" if part.get("organic") else "conventional"
    return "account", "|".join((
        terms["scheme"], part["commodity"], "all" if rule.get("scope") == "group" else site,
        grown if rule.get("match_organic", True) else "all", (rule.get("match_origin") and part.get("origin")) or "all"))
def factor(terms: Json, part: Json, on: str) -> Fraction:  # kilograms of beans for one of a form
    row = latest([row for row in terms["conversions"] if row["form"] == part["form"]
                  and row.get("commodity", "cocoa") == part["commodity"]], on)
    return Fraction(row["factor"]) if "factor" in row else 100 / Fraction(row["yield_percent"])
def later(day: str, days: int) -> str: return str(date.fromisoformat(day) + timedelta(days))

class Books:  # what follows from the entries: what counts, and what each of it moves
    def __init__(self, entries: list[Entry], bad: list[str]) -> None:
        counts, places = dict[int, Entry](), dict[int, int]()
        for entry in entries:
            try: self._place(entry, counts, places)
            except ODD as error: bad.append(f"entry {entry.seq} ({entry.kind}): {error!r}")
        self.opened, self.kinds = entries[0].body, dict[str, set[Json]]()
        self.of, self.named = defaultdict[str, list[tuple[int, Entry]]](list), dict[Key, Entry]()
        self.lots, self.runs = dict[str, tuple[Entry, Json]](), defaultdict[Key, list[Post]](list)
        for slot, entry in sorted(counts.items()):
            self.of[entry.kind].append((slot, entry))
            for part in entry.body[GIVEN[entry.kind]] if entry.kind in GIVEN else ():
                self.lots[part["lot"]] = (entry, part)
            name = (NAMED.get(entry.kind, ""), entry.body.get(NAMED.get(entry.kind, "")))
            if name in self.named and name[0]: bad.append(f"entry {entry.seq}: {' '.join(name)} is recorded already")
            self.named.setdefault(name, entry)
        for lot in self.lots:  # in the order in which they came: what goes into a lot before the lot
            try: self.kinds[lot] = self._kinds(lot)
            except ODD: continue  # the entry that takes from the lot says so
        for slot, entry in sorted(counts.items()):
            moves = getattr(self, "_" + entry.kind.replace(".", "_"), lambda _: ())
            try:
                for key, on, size, cause in list(moves(entry)): self.runs[key].append(Post(on, slot, size, cause))
            except ODD as error: bad.append(f"entry {slot} ({entry.kind}): {error!r}")
        for run in self.runs.values(): run.sort()
    def _place(self, entry: Entry, counts: dict[int, Entry], places: dict[int, int]) -> None:
        slot, body = entry.seq, entry.body
        if entry.on > later(entry.at[:10], 1) or (entry.kind == "checkpoint.signed" and body["size"] > slot):
            raise Refused("it says what has not happened yet")
        if entry.kind == "correction":
            slot, new = places.get(body["target"], body["target"]), body.get("replacement")
            was, places[entry.seq] = counts[slot], slot
            if was.seq != body["target"] or was.kind in STAYS: raise Refused("what it corrects does not count, or stays")
            del counts[slot]
            if new is None: return
            entry = Entry(entry.seq, was.kind, new["occurred_on"], entry.at, new["body"])
        counts[slot] = entry
    def terms(self, scheme: str, on: str) -> Json:  # a scheme's terms in force on a day
        return latest([e.body for _, e in self.of["terms.published"] if e.body["scheme"] == scheme], on)
    def site(self, body: Json) -> Json: return body.get("site") or self.opened["sites"][0]["site"]
    def lot(self, name: str) -> tuple[Entry, Json]:  # what brought a lot in; the lot, its contract filled in
        entry, part = self.lots[name]
        found = {"organic": False, "origin": None, "claims": [], "site": self.site(entry.body)}
        if "contract" in entry.body:
            signed = self.named["contract", entry.body["contract"]]
            found |= {"commodity": "cocoa", "form": "bean", "signed": signed.on} | signed.body
        return entry, found | part
    def counting(self, entry: Entry, lot: Json) -> Iterator[Json]:  # terms of the claims a received lot really carries
        for claim in lot["claims"] if lot.get("decision") != "rejected" else ():
            terms, on = self.terms(claim["scheme"], entry.on), entry.on
            by = terms.get("certificate_governed_by", "shipment")
            if by == "contract": on = lot["signed"]
            elif by == "shipment": on = self.named.get((by, entry.body[by]), entry).on
            if lot["commodity"] in terms.get("commodities", ["cocoa"]) and any(
                    self._covers(e.body, lot, claim, on) for _, e in self.of["certificate.recorded"]): yield terms
    def _covers(self, cert: Json, lot: Json, claim: Json, on: str) -> bool:
        events = [kind for *_, kind in sorted((e.body["from_on"], slot, kind) for kind in STOPS for slot, e in self.of[kind]
                  if e.body["certificate"] == cert["certificate"] and e.body["from_on"] <= on)]
        return ((cert["holder"], cert["scheme"]) == (lot["seller"], claim["scheme"])
                and cert["valid_from"] <= on <= cert["valid_until"] and cert.get("organic", False) >= lot["organic"]
                and lot["commodity"] in cert.get("commodities", ["cocoa"])
                and claim["custody"] in cert.get("custody", [claim["custody"]])
                and STOPS[1] not in events and events[-1:] != [STOPS[0]])
    def _kinds(self, lot: str) -> set[Json]:  # commodity, origin and whether organic, of all that was received for a lot
        entry, part = self.lot(lot)
        if "inputs" not in entry.body: return {(part["commodity"], part["origin"], part["organic"])}
        return set().union(*(self.kinds[one["lot"]] for one in entry.body["inputs"]))
    def mix(self, lot: str) -> dict[str, Fraction]:  # shares of received lots in a lot, well mixed: from batch to batch back
        found = defaultdict[str, Fraction](Fraction, {lot: Fraction(1)})
        for name in reversed(self.lots):
            into = self.lots[name][0].body.get("inputs", ()) if name in found else ()
            whole, share = sum(grams(one["mass_kg"]) for one in into), found.pop(name) if into else Fraction(0)
            for one in into: found[one["lot"]] += share * Fraction(grams(one["mass_kg"]), whole)
        return found
    def parts(self, lot: str) -> list[Json]:  # parts of a lot that are counted by themselves, with shares
        _, part = self.lot(lot)
        if part.get("recipe"): return list(self.named["recipe", part["recipe"]].body["ingredients"])
        [commodity], origins = ({kind[place] for kind in self.kinds[lot]} for place in (0, 1))
        return [{"commodity": commodity, "form": part["form"], "share": 1, "organic": all(kind[2] for kind in self.kinds[lot]),
                 "origin": origins.pop() if len(origins) == 1 else None}]
    def _contract_signed(self, e: Entry) -> Json: return self.named["party", e.body["seller"]].body.get("moves", ())
    def _shipment_received(self, e: Entry) -> Iterator[Json]:  # these yield stock or account, day, grams, cause
        for lot in (self.lot(one["lot"])[1] for one in e.body["lots"] if one.get("decision") != "rejected"):
            landed, shipped = grams(lot["net_landed_kg"]), grams(lot["net_shipped_kg"])
            yield ("stock", lot["lot"]), e.on, landed, "received"
            for terms in self.counting(e, lot):
                weight = {"shipped": shipped, "landed": landed}.get(terms.get("account", {}).get("credit_weight"), min(shipped, landed))
                yield account(terms, lot, lot["site"]), e.on, floor(weight * factor(terms, lot, e.on)), "received"
    def _batch_made(self, e: Entry) -> Iterator[Json]:
        moved = [(one["lot"], -grams(one["mass_kg"]), "used") for one in e.body["inputs"] if one["lot"] in self.lots]
        moved += [(one["lot"], grams(one["mass_kg"]), "made") for one in e.body["outputs"]]
        if sum(size for _, size, _ in moved) + sum(grams(one["mass_kg"]) for one in e.body.get("losses", ())): raise Refused("mass lost")
        yield from ((("stock", lot), e.on, size, cause) for lot, size, cause in moved)
    def drawn(self, sale: Entry, line: Json) -> dict[Key, Fraction]:  # what claims on a line of a sale draw, exactly
        beans = defaultdict[Key, Fraction](Fraction)
        for terms in (self.terms(claim["scheme"], sale.on) for claim in line.get("claims", ())):
            for part in self.parts(line["lot"]):
                if part["commodity"] in terms.get("commodities", ["cocoa"]):
                    share = Fraction(part["share"]) * factor(terms, part, sale.on)
                    beans[account(terms, part, self.site(sale.body))] += share * grams(line["mass_kg"])
        return beans
    def _sale_dispatched(self, e: Entry) -> Iterator[Json]:
        for line in e.body["lines"] if self.named["party", e.body["customer"]].seq >= 0 else ():
            yield ("stock", self.lot(line["lot"])[1]["lot"]), e.on, -grams(line["mass_kg"]), "sold"
            yield from ((key, e.on, -ceil(beans), "sold") for key, beans in self.drawn(e, line).items())
    def _sale_returned(self, e: Entry) -> Iterator[Json]:
        sale = self.named["sale", e.body["sale"]]
        for part in e.body["lines"]:
            lines = [line for line in sale.body["lines"] if line["lot"] == part["lot"]]
            if len(lines) > 1: raise Beyond(f"entry {e.seq}: a return of what was sold in several lines")
            yield ("stock", part["lot"]), e.on, grams(part["mass_kg"]), "returned"
            for key, beans in self.drawn(sale, lines[0]).items():
                yield key, e.on, floor(beans * grams(part["mass_kg"]) / grams(lines[0]["mass_kg"])), "returned"
    def _lot_written_off(self, e: Entry) -> Iterator[Json]:  # takes the certified content of what is gone along
        mass, beans, lot = grams(e.body["mass_kg"]), defaultdict[Key, Fraction](Fraction), e.body["lot"]
        sources = [(*self.lot(source), share) for source, share in self.mix(lot).items()]
        yield ("stock", lot), e.on, -mass, "written off"
        for receipt, source, share in sources:
            whole = sum(s for _, one, s in sources if one["commodity"] == source["commodity"])
            for terms in (self.terms(one["scheme"], e.on) for one in self.counting(receipt, source)):
                content = sum(Fraction(part["share"]) * factor(terms, part, e.on) for part in self.parts(lot)
                              if part["commodity"] == source["commodity"])
                beans[account(terms, source, source["site"])] += mass * content * share / whole
        yield from ((key, e.on, -ceil(size), "written off") for key, size in beans.items() if size)

# 7. DUES. A tonne is owed the highest of the price agreed, the guaranteed minimum and the market; organic differential
# and premium come on top. Settings follow the terms in force when the contract was signed, figures those of the date
# that governs them. A payment goes to the shipment that it names, then to what fell due first.
DIGITS = dict.fromkeys("BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF".split(), 0) | dict.fromkeys(
    "BHD IQD JOD KWD LYD OMR TND".split(), 3)
DUTIES = ("price", "organic differential", "premium")
class Dues:  # what is owed and was paid under one contract, as of a day
    def __init__(self, books: Books, signed: Entry, as_of: str) -> None:
        self.books, self.on, self.as_of, self.body = books, signed.on, as_of, signed.body
        agreed = self.body.get("price", {}).get("price", {"unit": ""})
        known = agreed["unit"][3:] == "/t" and all("money" in e.body for e in self.under("payment.made"))
        if not known: raise Beyond("its price was not agreed outright and per tonne, or it or a payment is sealed")
        self.agreed, self.currency = Fraction(agreed["amount"]), agreed["unit"][:3]
        self.terms = [books.terms(name, self.on) for name in dict.fromkeys(c["scheme"] for c in self.body.get("claims", ()))]
        self.days = min([t["market"].get("fall_back_days", 5) for t in self.terms if "market" in t], default=5)
    def under(self, kind: str) -> list[Entry]:  # what was recorded under the contract, by date
        found = sorted((e.on, slot, e) for slot, e in self.books.of[kind] if e.on <= self.as_of)
        return [e for *_, e in found if e.body.get("contract") == self.body["contract"]]
    def price(self, amount: str, unit: str) -> Fraction:  # in the contract's currency and per tonne
        if unit != f"{self.currency}/t": raise Beyond(f"a price in {unit}")
        return Fraction(amount)
    def figure(self, terms: Json, table: str, lot: Json, on: str) -> Iterator[tuple[Json, Fraction]]:
        like = {"commodity": lot["commodity"]} | ({"form": lot["form"]} if table == "minimum_prices" else {})
        rows = [{"commodity": "cocoa", "form": "bean"} | row for row in self.books.terms(terms["scheme"], on).get(table, ())]
        rows = [row for row in rows if like.items() <= row.items()]  # the row of a table for a lot, with its price
        fit = [row for row in rows if table != "minimum_prices" or row.get("delivery", "FOB") == self.body.get("delivery", "FOB")]
        named = [row for row in fit if lot["origin"] in row.get("origins", ()) and row["valid_from"] <= on]
        for row in [latest(named or [row for row in fit if not row.get("origins")], on)] if rows else ():
            yield row, self.price(row["price"]["amount"], row["price"]["unit"])
    def asked(self, receipt: Entry, lot: Json, tonnes: Fraction) -> Iterator[tuple[Any, ...]]:
        sent = self.books.named.get(("shipment", receipt.body["shipment"]), receipt)
        dates = {"contract": self.on, "fixation": self.on, "shipment": sent.on, "delivery": receipt.on, "receipt": receipt.on}
        due = {(terms["scheme"], what): later(dates[term.get("after", "receipt")], term.get("days", 30)) for terms in self.terms
               for what in ("price_due", "premium_due") for term in [terms.get(what, {})]}
        last = min((day for (_, what), day in due.items() if what == "price_due"), default="9999-12-31")
        prices, grown, seller = [self.agreed], list[Fraction](), lot["seller"]
        for terms in [one for one in self.terms if one["scheme"] in [it["scheme"] for it in self.books.counting(receipt, lot)]]:
            on = dates[terms.get("minimum_governed_by", "contract")]
            prices += [price for _, price in self.figure(terms, "minimum_prices", lot, on)]
            if lot["organic"]: grown += [price for _, price in self.figure(terms, "organic_differentials", lot, on)]
            market = {"commodity": "cocoa", "form": "bean"} | terms.get("market", {"form": ""})
            if (market["commodity"], market["form"]) == (lot["commodity"], lot["form"]):
                on, name = dates[terms.get("market_governed_by", "fixation")], market["market"]
                quotes = [(q["on"], q["level"], e.body["unit"]) for _, e in self.books.of["quote.recorded"] for q in e.body["quotes"]
                          if e.body["market"] == name and "month" not in e.body and later(on, -self.days) <= q["on"] <= on]
                if not quotes: raise Beyond(f"{name} has no quote on {on}")
                prices.append(self.price(*max(quotes)[1:]))
            on, by = dates[terms.get("premium_governed_by", "delivery")], terms.get("premium_weight")
            mass = Fraction(grams(lot[f"net_{by}_kg"]), 10**6) if by else tonnes
            for row, price in self.figure(terms, "premiums", lot, on):
                for part in row.get("payees") or [{"payee": "seller", "share": 1}]:
                    yield (2, seller if part["payee"] == "seller" else part["payee"], due[terms["scheme"], "premium_due"],
                           terms["scheme"], mass * price * Fraction(part["share"]))
        yield from ((duty, seller, last, "", max(some) * tonnes) for duty, some in enumerate((prices, grown)) if some)
    def owed(self) -> dict[Any, Fraction]:  # by duty, payee, last day, day of receipt, shipment, scheme, entry
        found = defaultdict[Any, Fraction](Fraction)
        for receipt in self.under("shipment.received"):
            lots = [self.books.lot(one["lot"])[1] for one in receipt.body["lots"] if one.get("decision") != "rejected"]
            weight = {by: sum(grams(lot[f"net_{by}_kg"]) for lot in lots) for by in ("shipped", "landed")}
            by, borne = self.body["weight_basis"], self.body.get("franchise_percent")
            paid, lost = Fraction(weight[by]), weight["shipped"] - weight["landed"]
            if borne:  # the natural loss that the buyer bears, in per cent of what was shipped
                paid = weight["shipped"] - max(Fraction(0), lost - weight["shipped"] * Fraction(borne) / 100)
                paid, by = paid + (max(0, -lost) if by == "landed" else 0), "shipped"
            for lot in lots:
                tonnes = paid * grams(lot[f"net_{by}_kg"]) / weight[by] / 10**6
                for duty, payee, last, scheme, size in self.asked(receipt, lot, tonnes):
                    found[duty, payee, last, receipt.on, receipt.body["shipment"], scheme, receipt.seq] += size
        return found
    def rows(self) -> Iterator[tuple[str, ...]]:  # the rows of the contract in the table of dues
        digits, paid, late = DIGITS.get(self.currency, 2), Counter[Any](), Counter[Any]()
        lines = {line: ceil(size * 10**digits) for line, size in sorted(self.owed().items())}
        for e in sorted(self.under("payment.made"), key=lambda e: (e.body["towards"] != "advance", e.on, e.body["payment"])):
            left, towards = int(Fraction(e.body["money"]["amount"]) * 10**digits), e.body["towards"].replace("advance", "price")
            for line in sorted(lines, key=lambda line: line[4] != e.body.get("shipment")):
                if (DUTIES[line[0]], line[1]) == (towards, e.body["payee"]):
                    part = min(left, lines[line] - paid[line])
                    paid[line], left = paid[line] + part, left - part
                    if part: late[line] = max(late[line], days_after(line[2], e.on))
        for line, due in lines.items():
            duty, payee, last, _, shipment, scheme, seq = line
            if due > paid[line]: late[line] = max(late[line], days_after(last, self.as_of))
            yield (self.body["contract"], shipment, DUTIES[duty], scheme, payee, "final", self.body["seller"], str(seq), last if self.terms
                   else "", self.currency, *(decimals(n, digits) for n in (due, paid[line], due - paid[line])), str(late[line]))
def days_after(day: str, on: str) -> int: return max(0, (date.fromisoformat(on) - date.fromisoformat(day)).days)
def decimals(size: int, digits: int) -> str:  # a number of smallest units, as text
    text = f"{abs(size):0{digits + 1}}"
    return "-" * (size < 0) + (f"{text[:-digits]}.{text[-digits:]}" if digits else text)

# 8. FIGURES, for the trade date in SCOPE. Sales are drawn by the least SHA-256 of "root:number", so that nobody picks them.
CAUSES = "received", "sold", "returned", "written off", "converted", "transferred", "lapsed", "corrected"
FACTS = "certificate.", "shipment.d", "lot.w"
BEYOND = ("within_day", "joint_outputs", "measured_yields", "seasonal_differential", "late_interest",
          "grades", "window_months", "below_zero_kg", "transfers", "average")  # options of terms that are not read here
def lowest(run: list[Post]) -> tuple[int, str]:  # what a stock or account ever stood at least, and the first day of it
    moved = [(on, sum(post.grams for post in posts)) for (on, _), posts in groupby(run, key=lambda post: post[:2])]
    return min(zip(accumulate(size for _, size in moved), (on for on, _ in moved), strict=True), default=(0, ""))
def figures(books: Books, root: str, as_of: str, left: dict[str, str]) -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = {name: [] for name in FIGURES}
    for key, whole in sorted(books.runs.items()):
        run = [post for post in whole if post.on <= as_of]
        total, (low, on) = sum(post.grams for post in run), lowest(run)
        if key[0] == "account":
            sums = (sum(p.grams for p in run if p.cause == cause) for cause in CAUSES)
            found["balances"].append((*[*key[1].split("|"), "all", "all"][:7], *(decimals(size, 3) for size in (*sums, total, low)), on))
        elif total:
            moves = sorted((e.on, slot, e.body["to_site"]) for slot, e in books.of["lot.moved"]
                           if e.body["lot"] == key[1] and e.on <= as_of and "to_site" in e.body)
            site = moves[-1][2] if moves else books.site(books.lots[key[1]][0].body)
            found["stock"].append((key[1], books.lot(key[1])[1]["form"], site, decimals(total, 3)))
    for name, e in sorted((str(e.body["contract"]), e) for _, e in books.of["contract.signed"] if e.on <= as_of):
        beyond = [left[claim["scheme"]] for claim in e.body.get("claims", ()) if claim["scheme"] in left]
        try: found["dues"] += [] if beyond else Dues(books, e, as_of).rows()
        except Beyond as why: beyond = [str(why)]
        if beyond: left[name] = f"dues of contract {name}: {beyond[0]}"
    tickets = sorted((hashlib.sha256(f"{root}:{e.seq}".encode()).hexdigest(), str(e.seq), e.body["sale"]) for _, e in
                     books.of["sale.dispatched"] if e.on <= as_of and any(line.get("claims") for line in e.body["lines"]))
    return found | {"sampled-sales": [(sale, seq, ticket) for ticket, seq, sale in tickets[:3]]}

# 9. THE WHOLE CHECK. Each part of it names what does not hold.
PARTS = ("files and digests", "scope and tree head", "chain of entries", "tree head", "tree head kept from before", "signed checkpoints",
         "key pinned on enrolment", "sealed values", "rules of the books", "balances", "stock", "dues", "sampled sales", "attached papers")

class Check:  # what does not hold, by part; what was left out here, and why
    def __init__(self, pack: Pack, pinned: str | None, kept: str | None) -> None:
        self.pack, self.bad, self.left = pack, defaultdict[str, list[str]](list), dict[str, str]()
        self.entries, self.roots, self.hidden, self.signed = list[Entry](), [root_of([])], 0, 0
        digests = {name: hashlib.sha256(pack.whole(name)).hexdigest() for name in sorted(pack.files)}
        version = re.search(rb"(?m)^Pack-Format-Version: ([0-9]{1,9})$", pack.whole(INFO))
        if version and int(version[1]) > VERSION and digests[INFO].encode() in pack.whole(TAGS):
            raise Beyond(f"the pack is in format {int(version[1])}, this file reads up to {VERSION}; get its present version")
        self.scope, head = (self._small(name) for name in (SCOPE, HEAD))
        self._read()
        root, size, scope = self.roots[-1], len(self.roots) - 1, self.scope
        if head and head != {"root": root, "size": size}: self.bad["tree head"].append(f"the entries give {size}:{root}")
        if scope and scope["entries"] != size: self.bad["scope and tree head"].append(f"{SCOPE} is for other entries")
        self.maker = self.entries[0].body.get("organisation_name") if self.entries else None
        sizes = [pack.files[name][2] for name in digests if name.startswith("data/")]
        info = (f"Source-Organization: {self.maker}\nExternal-Description: Audit pack of a certified-supply ledger, trade "
                f"dates up to {scope['as_of']}\nBagging-Date: {scope['made_at'][:10]}\nPayload-Oxum: {sum(sizes)}."
                f"{len(sizes)}\nPack-Format-Version: {VERSION}\n") if scope and self.maker else None
        self.bad["files and digests"] += check_bag(pack, digests, info)
        self._check_signed(pinned, kept)
        try: self._check_figures(head["root"] if head else root)
        except ODD as error:
            for name in FIGURES: self.bad[name.replace("-", " ")].append(f"the entries cannot be added up: {error!r}")
        papers = {(e.body.get("sha256"), e.body.get("size")) for e in self.entries if e.kind == "document.attached"}
        self.bad["attached papers"] += [f"{n} is not a paper that an entry records" for n in digests if n.startswith(
            "data/documents/") and not (n.endswith(digests[n]) and (digests[n], pack.files[n][2]) in papers)]
    def _small(self, name: str) -> Json:  # the object in a small file, or none
        day, text, raw = rb'"[0-9]{4}-[0-9]{2}-[0-9]{2}"', rb'"(?:[^"\\]|\\.)*"', self.pack.whole(name)
        part = rb'\{(?!\})(?:"sale":%b|(?:"from":%b,?)?(?:"scheme":%b,?)?(?:"until":%b)?)\}' % (text, day, text, day)
        forms = {HEAD: rb'\{"root":"[0-9a-f]{64}","size":[0-9]+\}\n', SCOPE: rb'\{"as_of":%b,"entries":[0-9]+,"made_at":"[0-9-]{10}T[0-9:]{8}'
                 rb'\.[0-9]{6}Z","made_by":%b(?:,"portion":%b)?(?:,"profile":%b)?\}\n' % (day, text, part, text)}
        try: found, _ = (o := canonical(raw[:-1])), [datetime.fromisoformat(d) for p in (o, o.get("portion", {})) for d in map(p.get, DATED) if d]
        except ODD: found = {}
        if found and re.fullmatch(forms[name], raw): return found
        self.bad["scope and tree head"].append(f"{name} is missing, or not as packs have it")
    def _read(self) -> None:  # every disclosure, and every line of the record
        shown, before, peaks, prev = defaultdict[int, list[str]](list), (-1, ""), list[bytes](), "0" * 64
        for raw in self.pack.whole(SHOWN).split(b"\n")[:-1]:
            try:
                given, last = canonical(raw), before
                before = max(last, this := (given["seq"], sealed_digest(given["text"])))
                if this[0] >= last[0]: shown[this[0]].append(given["text"])  # else its entry is read by then
                if this <= last or len(given) != 2: raise Refused("it is out of order")
            except ODD as error: self.bad["sealed values"].append(f"a disclosure: {error!r}")
        if not self.pack.whole(SHOWN).endswith(b"\n") and self.pack.whole(SHOWN): self.bad["sealed values"].append("it was cut")
        whole, self.shown = self.pack.whole(ENTRIES), sum(map(len, shown.values()))
        if not whole.endswith(b"\n"): self.bad["chain of entries"].append("there is no entry, or the last line was cut")
        for seq, raw in enumerate(whole.removesuffix(b"\n").split(b"\n") if whole else ()):
            leaf, texts = hashlib.sha256(b"\0" + raw).digest(), shown.pop(seq, [])
            if re.fullmatch(rb"[0-9a-f]{64}", raw):
                leaf, self.left["all"] = bytes.fromhex(raw.decode()), "rules and figures: the pack shows a part of the ledger"
                if not seq or "portion" not in (self.scope or {}): self.bad["chain of entries"].append(f"entry {seq} is not shown")
            else: self._take(seq, raw, prev, texts)
            grow(peaks, seq, leaf)
            self.roots.append(root_of(peaks))
            prev = leaf.hex()
        self.bad["sealed values"] += [f"there is no entry {seq} to open" for seq in shown]
    def _take(self, seq: int, raw: bytes, prev: str, texts: list[str]) -> None:
        chain, hidden = self.bad["chain of entries"], 0
        try: found = parse_entry(raw)
        except ODD as error:
            self.bad["sealed values"] += [f"entry {seq}, which is none, is opened"] * bool(texts)
            return chain.append(f"entry {seq} is none: {error!r}")
        if (found["seq"], found["prev"]) != (seq, prev): chain.append(f"entry {seq} does not follow the one before")
        if (found["kind"] == "ledger.opened") != (seq == 0): chain.append(f"entry {seq} is {found['kind']}")
        try: found["body"], hidden = open_sealed(found["body"], texts)
        except ODD as error: self.bad["sealed values"].append(f"entry {seq}: {error!r}")
        self.hidden += hidden
        self.entries.append(Entry(found["seq"], found["kind"], found["occurred_on"], found["recorded_at"], found["body"]))
    def _check_signed(self, pinned: str | None, kept: str | None) -> None:  # under the key in force at each size
        first = self.entries[0].body.get("public_key", "") if self.entries else ""
        keys = [(0, first), *((e.seq + 1, e.body["new_key"]) for e in self.entries if e.kind == "key.rotated")]
        notes = {e.body["size"]: "" for e in self.entries if e.kind == "checkpoint.signed"}
        notes |= {int(name[17:-5]): self.pack.whole(name).decode(errors="replace")
                  for name in self.pack.files if re.fullmatch(r"data/checkpoints/[1-9][0-9]{0,15}\.note", name)}
        for size, note in sorted(notes.items()):
            key = [key for since, key in keys if since <= size][-1]
            try:
                origin, stated, root = note.split("\n")[:3]
                if (stated, root) != (str(size), base64.b64encode(bytes.fromhex(self.roots[size])).decode()): raise Refused("of others")
                if origin != key.split("+")[0] or not signed_by(note, key): raise Refused("not signed by the key in force")
                self.signed = size
            except ODD as error: self.bad["signed checkpoints"].append(f"{size}.note: {error!r}")
        if pinned and keys[1:]: self.left["key"] = "whether rotations lead from the key that you gave to the present one"
        elif pinned and (pinned.strip() != keys[0][1] or not self.signed):
            self.bad["key pinned on enrolment"].append("nothing here is signed by the key that you gave")
        head = re.match(r"[^\n]+\n([1-9][0-9]{0,15})\n([A-Za-z0-9+/]{43}=)\n", kept or "")
        if kept and not head: raise Refused("what you gave as the last checkpoint is none")
        if head and self.roots[int(head[1]):int(head[1]) + 1] != [base64.b64decode(head[2]).hex()]: self.bad[PARTS[4]].append("it differs")
    def _check_figures(self, root: str) -> None:
        unknown, rules = {e.kind for e in self.entries} - KNOWN, self.bad["rules of the books"]
        if unknown: self.left["all"] = f"rules and figures: there are entries of kind {min(unknown)}"
        if "all" in self.left: return
        try: books = Books(self.entries, rules)
        except Beyond as why: return self.left.update(all=f"rules and figures: {why}")
        for _, e in books.of["terms.published"]:
            given = {**e.body, **e.body.get("account", {}), **e.body.get("market", {})}
            beyond = [name for name in BEYOND if given.get(name) and given[name] != "as recorded"]
            if beyond: self.left[e.body["scheme"]] = f"scheme {e.body['scheme']}: its terms say {beyond[0]}"
        for claim in (c for e in self.entries for one in (e.body, *e.body.get("lines", ())) for c in one.get("claims", ())):
            if "proportion" in claim: self.left[claim["scheme"]] = f"scheme {claim['scheme']}: there are controlled blends"
        facts = [e.seq for e in self.entries if e.kind.startswith(FACTS) or e.body.get("accept_breach")]
        for key, (low, on) in ((key, lowest(run)) for key, run in books.runs.items()):
            sold = max((post.slot for post in books.runs[key] if post.cause == "sold"), default=0)
            if low < 0 and (key[0] == "stock" or max(facts, default=0) <= sold) and key[1].split("|")[0] not in self.left:
                rules.append(f"{' '.join(key)} stands at {decimals(low, 3)} kg on {on}")
        for name, rows in (figures(books, root, self.scope["as_of"], self.left) if self.scope else dict.fromkeys(FIGURES)).items():
            part, skip = self.bad[name.replace("-", " ")], set(self.left) if name in {"balances", "dues"} else set()
            header, *lines = self.pack.whole(f"data/figures/{name}.csv").decode(errors="replace").split("\r\n")
            if rows is None or header != FIGURES[name] or lines[-1:] != [""]: part.append(f"{name}.csv is no such table, or has no date")
            theirs, mine = [tuple(line.split(",")) for line in lines[:-1]], rows or []
            if name == "balances" and books.of["period.closed"]:  # who the account is, and what it closes at
                self.left["closed"] = "how accounts came to what they close at, and what lapsed: a period is closed"
                skip |= {row[0] for row in theirs if row[-5:-4] != ("0.000",)}
                theirs, mine = ([(*row[:7], *row[-3:-2]) for row in some] for some in (theirs, mine))
            theirs, mine = ([row for row in some if row[0] not in skip] for some in (theirs, mine))
            for one, other, what in ((theirs, set(mine), "claimed"), (mine, set(theirs), "given by the entries")):
                part += [f"{', '.join(row)}: only {what}" for row in one if row not in other]
            if theirs != mine: part.append("the rows are not those of the entries, in their order")
    def lists(self) -> Iterator[tuple[str, list[str]]]:  # what the check means for its reader
        proved = ((("files and digests",), "The pack is whole: no file is missing, added or changed since it was packed."),
                  (("chain of entries", "tree head"), f"{len(self.roots) - 1} entries hang together under {self.roots[-1]}."),
                  (("sealed values",), f"The {self.shown} sealed values that are shown are those that were recorded."),
                  (("rules of the books", *PARTS[9:13]), "The figures follow from the entries, but for what was left out."))
        yield "Proved", [told for parts, told in proved if not any(self.bad[part] for part in parts)]
        yield "Claimed by the maker", [f"What entries, reports and papers say happened, and when: on the word of {self.maker}.",
                                       f"The signature under {self.signed} entries, if the key came with the pack."]
        yield "Not checked", [
            *(f"Not recomputed here: {told}." for told in self.left.values()), "What is around the files in a zip.",
            "Rules beyond these: that batches balance, that no lot and no account falls below zero, that names are recorded.",
            "Whether the record was rewritten whole before it was packed: give the last checkpoint that you kept.",
            "Proofs between checkpoints, revoked keys, cosignatures, timestamps. (Ed25519 is worked out in Python here.)",
            f"What {self.hidden} sealed values say. Whether everything was recorded, and recorded truly.",
            "What the scheme, the certifier or the law asks: their published texts have the last word."]
def main() -> int:
    asked = argparse.ArgumentParser(description="Verify an audit pack.")
    for name in ("pack", "--key", "--last"): asked.add_argument(name)
    given = asked.parse_args()
    try: found = Check(Pack(Path(given.pack).resolve(strict=True)), given.key, Path(given.last).read_text(errors="replace") if given.last else None)
    except (OSError, Beyond, Refused) as error:
        print(f"the pack cannot be read: {error}", file=sys.stderr)
        return 2 if isinstance(error, OSError | Beyond) else 3
    for place, part in enumerate(PARTS):
        result = "DOES NOT HOLD" if found.bad[part] else "not checked" if "all" in found.left and 8 <= place <= 12 else "holds"
        print(f"{part:<28}{result}", *found.bad[part][:50], sep="\n  ")
    for heading, sentences in found.lists(): print(f"\n{heading}", *sentences, sep="\n  - ")
    return 3 if any(found.bad.values()) else 0
if __name__ == "__main__": sys.exit(main())
