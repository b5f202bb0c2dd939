// The books: a second reading of the entries, by plain loops and fractions.
//
// An entry counts in its place; a correction takes what counts in a place out, or puts another
// there. What counts moves grams in stocks (by lot) and in accounts (by scheme, commodity, site,
// production, origin; in bean equivalent). What lies in a closed period stays as it was signed
// off: a difference lands on the day that brought it.

const NAMED = {
  "ledger.opened": "organisation", "party.registered": "party", "contract.signed": "contract", "sale.dispatched": "sale",
  "shipment.dispatched": "shipment", "recipe.published": "recipe", "lot.rejected": "lot",
};
const GIVEN = { "shipment.received": "lots", "batch.made": "outputs" };
const STAYS = [
  "period.closed", "checkpoint.signed", "key.rotated", "key.revoked", "disclosure.erased",
  "access.granted", "access.ended", "finding.noted", "finding.closed",
];
const QUIET = [
  "certificate.recorded", "certificate.suspended", "certificate.withdrawn",
  "certificate.reinstated", "terms.published", "limits.published", "quote.recorded", "rate.recorded",
  "price.fixed", "advance.requested", "payment.made", "lot.moved", "lot.counted", "hold.placed", "hold.released",
  "document.attached", "correction", ...STAYS,
];
const MOVING = {
  "shipment.received": "received", "batch.made": "made", "sale.dispatched": "sold",
  "sale.returned": "back", "claim.withdrawn": "back", "lot.written_off": "writtenOff",
};
// What an entry may move on a later day than its own.
const LANDING = new Set(["corrected", "written off"]);
// After these, in an open ledger, earlier entries may move something else.
const DECIDING = /^(correction|certificate\..*|shipment\.dispatched|lot\.rejected)$/;

function gramsOf(kg) {
  const found = /^([0-9]{1,10})(?:\.([0-9]{1,3}))?$/.exec(kg);
  if (!found) throw new Refused(`${short(kg)} is no mass`);
  return Number(found[1]) * 1000 + Number((found[2] ?? "").padEnd(3, "0"));
}

function massOf(parts) { return parts.reduce((sum, part) => sum + gramsOf(part.mass_kg), 0); }

// The row of a dated table in force on a day: the last that is valid from then or before.
function latest(rows, on) {
  let found = null;
  for (const row of rows)
    if (row.valid_from <= on && (!found || row.valid_from > found.valid_from)) found = row;
  if (!found) throw new Refused(`nothing that was published is in force on ${short(on)}`);
  return found;
}

function accountOf(terms, part, site) {
  const rule = terms.account ?? {};
  return ["account", [
    terms.scheme, part.commodity, rule.scope === "group" ? "all" : site,
    rule.match_organic ?? true ? (part.organic ? "organic" : "conventional") : "all",
    (rule.match_origin && part.origin) || "all",
  ].join("|")];
}

function schemeOf(key) { return key.split("|")[0]; }

function factorOf(terms, part, on) {
  const rows = terms.conversions.filter((row) => row.form === part.form
    && (row.commodity ?? "cocoa") === part.commodity);
  const row = latest(rows, on);
  return row.factor === undefined ? Exact.of(100).by(row.yield_percent) : Exact.of(row.factor);
}

function certifies(terms, part) { return (terms.commodities ?? ["cocoa"]).includes(part.commodity); }

class Books {
  constructor(entries, bad) {
    this.entries = entries;
    this.bad = bad;
    this.counts = new Map();
    this.posts = new Map();
    this.places = new Map();
    this.closed = "";
  }

  static async of(entries, bad, pace) {
    const books = new Books(entries, bad);
    for (const [done, entry] of entries.entries()) {
      try { books.place(entry); } catch (error) { books.refuse(entry.seq, entry.kind, error); }
      if (books.closed && DECIDING.test(entry.kind)) await books.settle(entry.on, pace, entry);
      if (entry.kind === "period.closed") {
        await books.settle(entry.on, pace);
        try { books.close(entry); } catch (error) { books.refuse(entry.seq, entry.kind, error); }
      }
      await pace.rest("Reading the books", done, entries.length);
    }
    await books.settle("9999-12-31", pace);
    books.runs = books.runsNow();
    return books;
  }

  refuse(seq, kind, error) { this.bad.set(seq, `entry ${seq} (${short(kind)}): ${error.message}`); }

  place(entry) {
    let slot = entry.seq;
    let counting = entry;
    if (entry.on > dayAfter(entry.at.slice(0, 10)) || (entry.kind === "checkpoint.signed" && entry.body.size > entry.seq))
      throw new Refused("it says what has not happened yet");
    if (entry.kind === "correction") {
      const { target, replacement } = entry.body;
      slot = this.places.get(target) ?? target;
      const was = this.counts.get(slot);
      if (!was || was.seq !== target || STAYS.includes(was.kind) || entry.on <= this.closed)
        throw new Refused("what it corrects does not count, or stays as it is");
      if (replacement && replacement.entry_kind !== was.kind) throw new Refused("it puts another kind there");
      this.places.set(entry.seq, slot);
      this.counts.delete(slot);
      if (!replacement) return;
      counting = { seq: entry.seq, kind: was.kind, on: replacement.occurred_on, at: entry.at, body: replacement.body };
    }
    this.counts.set(slot, counting);
  }

  // Lets every entry move what it moves now; differences in closed periods land on a day.
  async settle(on, pace, because = null) {
    this.index();
    if (because?.kind === "shipment.dispatched"
      && !(this.receipts.get(because.body.shipment) ?? []).length) return;
    const slots = [...new Set([...this.counts.keys(), ...this.posts.keys()])].sort((a, b) => a - b);
    for (const [done, slot] of slots.entries()) {
      const entry = this.counts.get(slot);
      if (entry?.kind !== "period.closed") this.posts.set(slot, this.carried(slot, entry, on));
      if (done % 500 === 0) await pace.rest("Adding up the books", done, slots.length);
    }
    this.lapseAgain(on);
  }

  index() {
    this.of = new Map();
    this.named = new Map();
    this.lots = new Map();
    this.kinds = new Map();
    this.read = new Map();
    this.receipts = new Map();
    this.lastOf = new Map();
    for (const slot of [...this.counts.keys()].sort((a, b) => a - b)) {
      const entry = { ...this.counts.get(slot), slot };
      if (!this.of.has(entry.kind)) this.of.set(entry.kind, []);
      this.of.get(entry.kind).push(entry);
      try { this.indexOne(entry); } catch (error) { this.refuse(entry.seq, entry.kind, error); }
    }
    for (const lot of this.lots.keys()) {
      // What goes wrong here is told by the entry that takes from the lot.
      try { this.kinds.set(lot, this.kindsOf(lot)); } catch (error) { this.kinds.delete(lot); }
    }
  }

  indexOne(entry) {
    const { kind, body } = entry;
    const lots = Object.hasOwn(GIVEN, kind) ? body[GIVEN[kind]] : [];
    const name = `${kind} ${body[NAMED[kind]]}`;
    if (lots.some((part) => this.lots.has(part.lot)) || (Object.hasOwn(NAMED, kind) && this.named.has(name)))
      throw new Refused("what it brings in is recorded already");
    for (const part of lots) this.lots.set(part.lot, [entry, part]);
    if (Object.hasOwn(NAMED, kind)) this.named.set(name, entry);
    if (kind === "shipment.received") {
      if (!this.receipts.has(body.shipment)) this.receipts.set(body.shipment, []);
      this.receipts.get(body.shipment).push(entry);
    }
    for (const quote of kind === "quote.recorded" ? body.quotes : [])
      this.read.set(`${body.market} ${body.month ?? ""} ${quote.on}`, { amount: quote.level, unit: body.unit });
    for (const rate of kind === "rate.recorded" && !body.forward_months ? body.rates : [])
      this.read.set(`${body.base}/${body.to} ${rate.on}`, rate.rate);
  }

  all(kind) { return this.of.get(kind) ?? []; }

  find(kind, name) {
    const found = this.named.get(`${kind} ${name}`);
    if (!found) throw new Refused(`${short(name)} is not recorded (${kind})`);
    return found;
  }

  carried(slot, entry, on) {
    const old = this.posts.get(slot) ?? [];
    let moved = [];
    if (entry && Object.hasOwn(MOVING, entry.kind)) {
      try { moved = [...this[MOVING[entry.kind]]({ ...entry, slot })]; }
      catch (error) { this.refuse(entry.seq, entry.kind, error); }
    }
    const now = moved.map(([key, day, grams, cause]) => this.post(slot, key, day, grams, cause));
    if ([...old, ...now].every((post) => post.on > this.closed)) return now;
    return this.landed(slot, old, now, on, "corrected");
  }

  landed(slot, old, now, on, cause) {
    const left = new Map();
    for (const [sign, posts] of [[1, now], [-1, old]])
      for (const post of posts) left.set(post.key, (left.get(post.key) ?? 0) + sign * post.grams);
    return [...old, ...[...left].filter(([, grams]) => grams)
      .map(([key, grams]) => this.post(slot, key.split(" ", 1).concat(key.slice(key.indexOf(" ") + 1)), on, grams, cause))];
  }

  post(slot, [book, name], on, grams, cause) {
    const late = book === "account" && grams < 0
      && this.terms(schemeOf(name), on).account?.within_day === "receipts first";
    // What had lapsed and no longer did was there all along, so it comes first.
    return { on, late: cause === "lapsed" && grams > 0 ? -1 : late ? 1 : 0, slot, grams, cause, book, name, key: `${book} ${name}` };
  }

  runsNow() {
    const posts = [...this.posts.values()].flat();
    posts.sort((a, b) => inOrder([a.on, a.late, a.slot], [b.on, b.late, b.slot]));
    return grouped(posts, (post) => post.key);
  }

  // At each end of a reconciliation period that is closed, what was received too long ago
  // lapses: in hindsight, so on the day to which everything belongs as it counts now.
  lapses(closes) {
    const runs = this.inHindsight();
    const lapsed = new Map(closes.map((slot) => [slot, []]));
    for (const [number, slot] of closes.entries()) {
      const { start, end } = this.counts.get(slot).body;
      const since = number ? start : [...runs.values()].flat().map((post) => post.on).sort(inOrder)[0] ?? "9999-12-31";
      for (let month = monthOf(since); dayAfter(firstOf(month + 1), -1) <= end; month++) {
        const last = dayAfter(firstOf(month + 1), -1);
        const found = [...runs].sort().map(([name, run]) => [name, this.tooOld(name, run, month, last)])
          .filter(([, grams]) => grams > 0)
          .map(([name, grams]) => this.post(slot, ["account", name], last, -grams, "lapsed"));
        for (const post of found) runs.get(post.name).push(post);
        lapsed.get(slot).push(...found);
      }
    }
    return lapsed;
  }

  tooOld(name, run, month, last) {
    let terms;
    try { terms = this.terms(schemeOf(name), last); } catch (error) { return 0; }
    const length = terms.reconciliation_months ?? 12;
    const first = terms.reconciliation_starts ?? 1;
    if ((((month + 2 - first) % length) + length) % length) return 0;
    const since = firstOf(month + 1 - length * (terms.carry_over_periods ?? 1));
    const recent = (post) => since <= post.on && this.counts.get(post.slot)?.kind === "shipment.received";
    return run.filter((post) => post.on <= last && !recent(post)).reduce((grams, post) => grams + post.grams, 0);
  }

  // The movements of each account, but for what lapsed.
  inHindsight() {
    const posts = [];
    for (const [slot, some] of this.posts) {
      const entry = this.counts.get(slot);
      if (!entry || entry.kind === "period.closed") continue;
      for (const post of some.filter((one) => one.book === "account"))
        posts.push(entry.seq !== slot || LANDING.has(post.cause) ? { ...post, on: entry.on } : post);
    }
    return grouped(posts, (post) => post.name);
  }

  closes() { return [...this.counts.keys()].filter((slot) => this.counts.get(slot).kind === "period.closed").sort((a, b) => a - b); }

  close(entry) {
    const closes = this.closes().filter((slot) => slot === entry.seq || this.posts.has(slot));
    this.posts.set(entry.seq, this.lapses(closes).get(entry.seq));
    if (entry.body.end > this.closed) this.closed = entry.body.end;
  }

  // What lapsed with periods closed before counts as it does now; differences land.
  lapseAgain(on) {
    const closes = this.closes().filter((slot) => this.posts.has(slot));
    for (const [slot, lapsed] of closes.length ? this.lapses(closes) : [])
      this.posts.set(slot, this.landed(slot, this.posts.get(slot), lapsed, on, "lapsed"));
  }

  // --- What counts: terms, certificates, lots and what they are made of --------------

  terms(scheme, on) {
    return latest(this.all("terms.published").map((e) => e.body).filter((body) => body.scheme === scheme), on);
  }

  site(body) { return body.site ?? this.counts.get(0).body.sites[0].site; }

  // What brought a lot in, and the lot as that and its contract say.
  lot(name) {
    if (!this.lots.has(name)) throw new Refused(`lot ${short(name)} is not recorded`);
    const [entry, part] = this.lots.get(name);
    const found = { organic: false, origin: null, claims: [], site: this.site(entry.body) };
    if (entry.body.contract !== undefined) {
      const signed = this.find("contract.signed", entry.body.contract);
      Object.assign(found, { commodity: "cocoa", form: "bean", signed: signed.on }, signed.body);
    }
    return [entry, Object.assign(found, part)];
  }

  // The terms of the claims that a received lot really carries.
  counting(entry, lot) {
    if (lot.decision === "rejected") return [];
    return lot.claims.map((claim) => [claim, this.terms(claim.scheme, entry.on)])
      .filter(([claim, terms]) => {
        const by = terms.certificate_governed_by ?? "shipment";
        const sent = this.named.get(`shipment.dispatched ${entry.body.shipment}`);
        const on = by === "contract" ? lot.signed : (by === "shipment" && sent ? sent.on : entry.on);
        return certifies(terms, lot)
          && this.all("certificate.recorded").some((e) => this.covers(e.body, lot, claim, on));
      }).map(([, terms]) => terms);
  }

  covers(certificate, lot, claim, on) {
    if (certificate.holder !== lot.seller || certificate.scheme !== claim.scheme) return false;
    const events = ["suspended", "withdrawn", "reinstated"].flatMap((how) => this.all(`certificate.${how}`)
      .filter((e) => e.body.certificate === certificate.certificate && e.body.from_on <= on)
      .map((e) => [e.body.from_on, e.slot, how])).sort(inOrder);
    return certificate.valid_from <= on && on <= certificate.valid_until
      && (certificate.commodities ?? ["cocoa"]).includes(lot.commodity)
      && (certificate.custody ?? [claim.custody]).includes(claim.custody)
      && (certificate.organic || !lot.organic)
      && !events.some(([, , how]) => how === "withdrawn") && events.at(-1)?.[2] !== "suspended";
  }

  // Commodity, origin and whether organic, of all that was received for a lot. Lots stand in
  // the order in which they came, so what goes into one is known before it.
  kindsOf(lot) {
    const [entry, part] = this.lot(lot);
    if (entry.kind !== "batch.made") return new Map([[`${part.commodity}|${part.origin}|${part.organic}`, part]]);
    return new Map(entry.body.inputs.flatMap((one) => {
      if (!this.kinds.has(one.lot)) throw new Refused(`lot ${short(one.lot)} is not recorded`);
      return [...this.kinds.get(one.lot)];
    }));
  }

  // The shares of received lots in a lot, well mixed: from the last batch back to the first.
  mix(lot) {
    const found = new Map([[lot, new Exact(1n)]]);
    for (const name of [...this.lots.keys()].reverse()) {
      const [entry] = this.lots.get(name);
      if (!found.has(name) || entry.kind !== "batch.made") continue;
      const share = found.get(name);
      found.delete(name);
      const whole = massOf(entry.body.inputs);
      for (const part of entry.body.inputs) {
        const own = share.times(new Exact(BigInt(gramsOf(part.mass_kg)), BigInt(whole)));
        found.set(part.lot, found.has(part.lot) ? found.get(part.lot).plus(own) : own);
      }
    }
    return found;
  }

  // The parts of a lot that are counted by themselves, with their shares of its mass.
  parts(lot) {
    const [entry, part] = this.lot(lot);
    if (part.recipe) return this.find("recipe.published", part.recipe).body.ingredients;
    if (entry.kind === "shipment.received") return [{ ...part, share: "1" }];
    if (!this.kinds.has(lot)) throw new Refused(`lot ${short(lot)} is made of what is not recorded`);
    const sources = [...this.kinds.get(lot).values()];
    const [commodities, origins] = ["commodity", "origin"].map((name) => new Set(sources.map((one) => one[name])));
    if (commodities.size !== 1) throw new Refused(`lot ${short(lot)} mixes commodities without a recipe`);
    return [{
      commodity: [...commodities][0], form: part.form, share: "1",
      origin: origins.size === 1 ? [...origins][0] : null, organic: sources.every((one) => one.organic),
    }];
  }

  // --- What each kind of entry moves: stock or account, day, grams, cause -------------

  *received(e) {
    for (const { lot: name } of e.body.lots) {
      const [, lot] = this.lot(name);
      if (lot.decision === "rejected") continue;
      const [landed, shipped] = [gramsOf(lot.net_landed_kg), gramsOf(lot.net_shipped_kg)];
      const rejected = this.named.get(`lot.rejected ${name}`)?.body.from_on;
      yield [["stock", name], e.on, landed, "received"];
      for (const terms of this.counting(e, lot)) {
        const basis = terms.account?.credit_weight ?? "lesser";
        const weight = { shipped, landed }[basis] ?? Math.min(landed, shipped);
        const beans = Number(factorOf(terms, lot, e.on).times(weight).floor());
        const account = accountOf(terms, lot, lot.site);
        if (!rejected || rejected > e.on) yield [account, e.on, beans, "received"];
        if (rejected > e.on) yield [account, rejected, -beans, "written off"];
      }
    }
  }

  *made(e) {
    const { inputs, outputs, losses = [] } = e.body;
    if (massOf(inputs) !== massOf(outputs) + massOf(losses))
      throw new Refused("what went in is not what came out and was lost");
    for (const part of inputs) {
      this.lot(part.lot);
      yield [["stock", part.lot], e.on, -gramsOf(part.mass_kg), "used"];
    }
    for (const part of outputs) yield [["stock", part.lot], e.on, gramsOf(part.mass_kg), "made"];
  }

  // Whether the maker itself had a certificate for a claim on a part of a lot.
  makerHas(claim, terms, part, on) {
    const { organisation } = this.counts.get(0).body;
    const organic = (terms.account?.match_organic ?? true) && part.organic;
    return this.all("certificate.recorded").some(({ body }) => body.holder === organisation
      && body.scheme === claim.scheme && body.valid_from <= on && on <= body.valid_until
      && (body.commodities ?? ["cocoa"]).includes(part.commodity)
      && (body.custody ?? [claim.custody]).includes(claim.custody) && (body.organic || !organic));
  }

  // What the claims of a sale's line draw, in exact grams, by account.
  drawn(sale, line) {
    const found = new Map();
    for (const claim of line.claims ?? []) {
      const terms = this.terms(claim.scheme, sale.on);
      const parts = this.parts(line.lot).filter((part) => certifies(terms, part) && !Exact.of(part.share).isZero);
      if (!parts.length) throw new Refused(`lot ${short(line.lot)} holds nothing that ${short(claim.scheme)} certifies`);
      for (const part of parts) {
        if (!this.makerHas(claim, terms, part, sale.on)) throw new Refused("the maker had no certificate for the claim");
        const [, name] = accountOf(terms, part, this.site(sale.body));
        const beans = factorOf(terms, part, sale.on).times(part.share).times(gramsOf(line.mass_kg));
        found.set(name, found.has(name) ? found.get(name).plus(beans) : beans);
      }
    }
    return found;
  }

  *sold(e) {
    this.find("party.registered", e.body.customer);
    for (const line of e.body.lines) {
      this.lot(line.lot);
      yield [["stock", line.lot], e.on, -gramsOf(line.mass_kg), "sold"];
      for (const [name, beans] of this.drawn(e, line)) yield [["account", name], e.on, -Number(beans.ceil()), "sold"];
    }
  }

  // Goods that come back, and claims that are taken back. Lines sold with fewer claims come
  // back first, and within a line what is no longer claimed; nothing comes back twice.
  *back(e) {
    const sale = this.find("sale.dispatched", e.body.sale);
    const out = sale.body.lines.map((line) => {
      const grams = gramsOf(line.mass_kg);
      return { line, grams, claimed: new Map((line.claims ?? []).map((claim) => [claim.scheme, grams])) };
    });
    const others = [...this.all("sale.returned"), ...this.all("claim.withdrawn")]
      .filter((other) => other.body.sale === e.body.sale && other.slot <= e.slot)
      .sort((a, b) => a.slot - b.slot);
    for (const other of others) {
      const isReturn = other.kind === "sale.returned";
      for (const part of other.body.lines) {
        let left = gramsOf(part.mass_kg);
        const mine = out.filter((one) => one.line.lot === part.lot);
        if (isReturn) mine.sort((a, b) => a.claimed.size - b.claimed.size);
        if (isReturn && other.slot === e.slot) yield [["stock", part.lot], e.on, left, "returned"];
        for (const one of mine) {
          const grams = Math.min(left, isReturn ? one.grams : one.claimed.get(part.scheme) ?? 0);
          const given = isReturn
            ? new Map([...one.claimed].map(([scheme, claimed]) => [scheme, Math.max(0, grams - (one.grams - claimed))]))
            : new Map([[part.scheme, grams]]);
          if (!grams) continue;
          for (const [scheme, size] of given) one.claimed.set(scheme, one.claimed.get(scheme) - size);
          if (isReturn) one.grams -= grams;
          left -= grams;
          for (const [name, beans] of other.slot === e.slot ? this.drawn(sale, one.line) : []) {
            const size = given.get(schemeOf(name)) ?? 0;
            const whole = gramsOf(one.line.mass_kg);
            if (size) yield [["account", name], e.on, Number(beans.times(size).by(whole).floor()), "returned"];
          }
        }
        if (left) throw new Refused("more comes back than was sold");
      }
    }
  }

  // What is gone takes its certified content out of the accounts.
  *writtenOff(e) {
    const { lot } = e.body;
    const mass = gramsOf(e.body.mass_kg);
    yield [["stock", lot], e.on, -mass, "written off"];
    const sources = [...this.mix(lot)].map(([name, share]) => [...this.lot(name), share]);
    const content = new Map();
    for (const [receipt, source, share] of sources) {
      if (this.named.has(`lot.rejected ${source.lot}`)) continue;
      const whole = total(sources.filter(([, one]) => one.commodity === source.commodity).map(([, , part]) => part));
      for (const { scheme } of this.counting(receipt, source)) {
        const terms = this.terms(scheme, e.on);
        const beans = total(this.parts(lot).filter((part) => part.commodity === source.commodity)
          .map((part) => factorOf(terms, part, e.on).times(part.share)));
        const [, name] = accountOf(terms, source, source.site);
        const own = beans.times(mass).times(share).by(whole);
        content.set(name, content.has(name) ? content.get(name).plus(own) : own);
      }
    }
    for (const [name, beans] of content)
      if (!beans.isZero) yield [["account", name], e.on, -Number(beans.ceil()), "written off"];
  }
}

// What a stock or account stood at after each entry that moved it: lowest first.
function lowsOf(run) {
  const found = [];
  let standing = 0;
  for (let at = 0; at < run.length;) {
    const { on, late, slot } = run[at];
    for (; at < run.length && run[at].on === on && run[at].late === late && run[at].slot === slot; at++)
      standing += run[at].grams;
    found.push([standing, on]);
  }
  return found.sort(inOrder);
}
