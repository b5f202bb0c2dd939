// What growers are owed and were paid, contract by contract.
//
// A tonne is owed the highest of the price agreed, the guaranteed minimum and the market;
// organic differential and premium come on top. Settings follow the terms in force when the
// contract was signed, figures those of the date that governs them. A payment goes to the
// shipment that it names, then to what fell due first.

const KILOGRAMS = {
  t: "1000", kg: "1", lb: "0.45359237", qq46: "46", short_ton: "907.18474", long_ton: "1016.0469088",
};
const DIGITS = new Map([
  ...["BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "UYI", "VND",
    "VUV", "XAF", "XOF", "XPF"].map((code) => [code, 0]),
  ...["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"].map((code) => [code, 3]),
  ["CLF", 4], ["UYW", 4],
]);
const DUTIES = ["price", "seasonal differential", "organic differential", "premium", "interest", "advance"];

function digitsOf(currency) { return DIGITS.get(currency) ?? 2; }
function currencyOf(price) { return price.unit === "USc/lb" ? "USD" : price.unit.split("/")[0]; }
// A market is that of one commodity and form, and nothing else is compared with it.
function isOf(market, lot) { return (market.commodity ?? "cocoa") === lot.commodity && (market.form ?? "bean") === lot.form; }
// An advance is paid towards the price.
function dutyOf(payment) { return payment.body.towards === "advance" ? "price" : payment.body.towards; }

class Contract {
  constructor(books, signed, asOf) {
    Object.assign(this, { books, signed, asOf, body: signed.body, price: signed.body.price ?? null });
    const schemes = [...new Set((this.body.claims ?? []).map((claim) => claim.scheme))];
    this.terms = schemes.map((scheme) => books.terms(scheme, signed.on));
    const paid = this.under("payment.made", "9999-12-31");
    const asked = this.price?.price ?? this.price?.differential;
    const open = paid.find((e) => e.body.money);
    this.currency = asked ? currencyOf(asked) : open?.body.money.currency ?? null;
  }

  // What was recorded under the contract up to a day, by day.
  under(kind, until = this.asOf) {
    return this.books.all(kind).filter((e) => e.body.contract === this.body.contract && e.on <= until)
      .sort((a, b) => inOrder([a.on, a.slot], [b.on, b.slot]));
  }

  // Parts of the contract that have their price from one source, in the order they are used up.
  tranches() {
    if (this.price?.basis === "fixed") return [{ fixedOn: this.signed.on, fixation: null, left: null }];
    const fixed = this.under("price.fixed").map((e) => (
      { fixedOn: e.on, fixation: e, left: Exact.of(gramsOf(e.body.quantity_kg)) }));
    return [...fixed, { fixedOn: null, fixation: null, left: null, hidden: !this.price && !fixed.length }];
  }

  // Yields receipt, lot, tranche, tonnes paid for, and what part of the lot that is.
  *parcels() {
    const tranches = this.tranches();
    const { weight_basis: by, franchise_percent: franchise } = this.body;
    const basis = by === "shipped" || franchise !== undefined ? "net_shipped_kg" : "net_landed_kg";
    for (const receipt of this.under("shipment.received")) {
      const lots = receipt.body.lots.map((part) => this.books.lot(part.lot)[1]).filter((lot) => lot.decision !== "rejected");
      const sum = (member) => lots.reduce((grams, lot) => grams + gramsOf(lot[member]), 0);
      const payable = paidWeight(sum("net_shipped_kg"), sum("net_landed_kg"), by, franchise);
      for (const lot of lots) {
        const whole = payable.times(gramsOf(lot[basis])).by(sum(basis));
        for (let rest = whole; !rest.isZero;) {
          const tranche = tranches[0];
          const taken = tranche.left === null ? rest : least([rest, tranche.left]);
          yield { receipt, lot, tranche, tonnes: taken.by(1000000), part: taken.by(whole) };
          rest = rest.minus(taken);
          if (tranche.left !== null) tranche.left = tranche.left.minus(taken);
          if (tranche.left?.isZero) tranches.shift();
        }
      }
    }
  }

  // The lines of the table, without what was paid: summed up by all that tells them apart.
  lines() {
    const found = new Map();
    for (const parcel of this.parcels()) {
      const counting = new Set(this.books.counting(parcel.receipt, parcel.lot).map((terms) => terms.scheme));
      const terms = this.terms.filter((one) => counting.has(one.scheme));
      const dates = this.datesOf(parcel);
      const dueOn = this.terms.map((one) => dates.due(one.price_due ?? { days: 30 })).sort()[0] ?? "";
      const open = parcel.tranche.fixedOn === null && !parcel.tranche.hidden;
      const line = { duty: "price", scheme: "", payee: this.body.seller, dueOn, dates };
      this.add(found, parcel, { ...line, provisional: open },
        () => [[this.body.seller, this.priceOf(parcel, terms, dates), parcel.tonnes]]);
      if (parcel.lot.organic) {
        const later = open && terms.some((one) => one.minimum_governed_by === "fixation" && this.hasOrganic(one, parcel, dates));
        this.add(found, parcel, { ...line, duty: "organic differential", provisional: later },
          () => this.organicOf(parcel, terms, dates));
      }
      for (const one of terms) this.add(found, parcel, {
        ...line, duty: "premium", scheme: one.scheme, dueOn: dates.due(one.premium_due ?? { days: 30 }),
        provisional: open && one.premium_governed_by === "fixation",
      }, () => this.premiumOf(parcel, one, dates));
    }
    return [...found.values()];
  }

  // Adds what a parcel is owed to the line it belongs to.
  add(found, { receipt }, line, asked) {
    const about = { ...line, shipment: receipt.body.shipment, receivedOn: receipt.on, entry: receipt.seq };
    let owed;
    try { owed = asked(); } catch (error) {
      if (!(error instanceof Missing)) throw error;
      owed = [[line.payee, null, null, error]];
    }
    for (const [payee, price, tonnes, missing] of owed) {
      const standing = missing?.standing ?? (line.provisional ? "provisional" : "final");
      const currency = missing ? this.currency : this.currency ?? price.currency;
      const key = [about.duty, about.scheme, payee, about.dueOn, about.shipment, about.entry, standing,
        currency, missing?.message ?? ""].join("\n");
      if (!found.has(key)) found.set(key, { ...about, payee, standing, currency, sum: missing ? null : new Exact(0n) });
      const own = found.get(key);
      if (!missing) own.sum = own.sum.plus(price.amount.times(tonnes));
    }
  }

  datesOf({ receipt, tranche }) {
    const sent = this.books.named.get(`shipment.dispatched ${receipt.body.shipment}`);
    const on = { contract: this.signed.on, shipment: sent?.on ?? receipt.on, delivery: receipt.on, receipt: receipt.on };
    return {
      on: (governing) => {
        if (governing !== "fixation") return on[governing];
        if (tranche.hidden) throw this.hidden();
        return tranche.fixedOn ?? this.asOf;
      },
      due: (term) => dayAfter(on[term.after ?? "receipt"], term.days),
    };
  }

  hidden() { return new Missing("not disclosed", `the price of contract ${this.body.contract}`); }

  priceOf(parcel, terms, dates) {
    const agreed = this.agreed(parcel);
    const asked = [agreed.amount, new Exact(0n)];
    for (const one of terms) {
      const on = dates.on(one.minimum_governed_by ?? "contract");
      const row = this.row(one, "minimum_prices", parcel.lot, on);
      if (row) asked.push(this.perTonne(row.price, agreed.currency, on, this.bridge(one.scheme)));
      if (one.market && isOf(one.market, parcel.lot)) asked.push(this.market(one, parcel, dates, agreed.currency));
    }
    return { amount: greatest(asked), currency: agreed.currency };
  }

  // The price per tonne that the contract itself settles; to be fixed, as if fixed on the day of the figures.
  agreed({ tranche }) {
    if (!this.price) throw this.hidden();
    const asked = this.price.price ?? this.price.differential;
    const currency = currencyOf(asked);
    if (this.price.basis === "fixed")
      return { amount: this.perTonne(asked, currency, this.signed.on, this.bridge()), currency };
    const on = tranche.fixedOn ?? this.asOf;
    const level = tranche.fixation ? tranche.fixation.body.level : this.quote(this.price.market, this.price.month, on, this.bridge());
    if (!level) throw this.hidden();
    const amount = this.perTonne(level, currency, on, this.bridge());
    return { amount: amount.plus(this.perTonne(asked, currency, on, this.bridge())), currency };
  }

  market(terms, parcel, dates, currency) {
    const on = dates.on(terms.market_governed_by ?? "fixation");
    const days = this.bridge(terms.scheme);
    const found = this.perTonne(this.quote(terms.market.market, undefined, on, days), currency, on, days);
    if (this.price.basis === "fixed") return found;
    return found.plus(this.perTonne(this.price.differential, currency, on, days));
  }

  organicOf(parcel, terms, dates) {
    const found = [];
    for (const one of terms) {
      const on = dates.on(one.minimum_governed_by ?? "contract");
      const row = this.row(one, "organic_differentials", parcel.lot, on);
      if (row) found.push(this.inCurrency(row.price, on, one.scheme));
    }
    if (!found.length) return [];
    if (new Set(found.map((one) => one.currency)).size > 1) throw this.hidden();
    const amount = greatest(found.map((one) => one.amount));
    return [[this.body.seller, { amount, currency: found[0].currency }, parcel.tonnes]];
  }

  hasOrganic(terms, parcel, dates) {
    try { return Boolean(this.row(terms, "organic_differentials", parcel.lot, dates.on("fixation"))); }
    catch (error) { return false; }
  }

  premiumOf(parcel, terms, dates) {
    const on = dates.on(terms.premium_governed_by ?? "delivery");
    const row = this.row(terms, "premiums", parcel.lot, on);
    if (!row) return [];
    const by = terms.premium_weight;
    const tonnes = by ? parcel.part.times(gramsOf(parcel.lot[`net_${by}_kg`])).by(1000000) : parcel.tonnes;
    const price = this.inCurrency(row.price, on, terms.scheme);
    const payees = row.payees?.length ? row.payees : [{ payee: "seller", share: "1" }];
    return payees.map(({ payee, share }) => [
      payee === "seller" ? this.body.seller : payee, { ...price, amount: price.amount.times(share) }, tonnes]);
  }

  // The row of a published table for a lot; null where the terms have none for such goods.
  row(terms, table, lot, on) {
    let inForce;
    try { inForce = this.books.terms(terms.scheme, on); }
    catch (error) { throw new Missing("not computable", `no terms of ${terms.scheme} on ${on}`); }
    const isMinimum = table === "minimum_prices";
    let rows = (inForce[table] ?? []).filter((row) => (row.commodity ?? "cocoa") === lot.commodity
      && (!isMinimum || (row.form ?? "bean") === lot.form));
    if (!rows.length) return null;
    const delivery = this.body.delivery ?? "FOB";
    rows = rows.filter((row) => row.valid_from <= on && (!isMinimum || (row.delivery ?? "FOB") === delivery));
    const named = rows.filter((row) => (row.origins ?? []).includes(lot.origin));
    const fitting = named.length ? named : rows.filter((row) => !(row.origins ?? []).length);
    if (!fitting.length)
      throw new Missing("not computable", [table, terms.scheme, lot.commodity, lot.form, lot.origin, on].join(" "));
    return latest(fitting, on);
  }

  bridge(scheme = null) {
    const days = this.terms.filter((one) => one.market && (scheme === null || one.scheme === scheme))
      .map((one) => one.market.fall_back_days ?? 5);
    return days.length ? Math.min(...days) : 5;
  }

  quote(market, month, on, days) {
    for (let back = 0; back <= days; back++)
      for (const series of [month ?? "", ""]) {
        const found = this.books.read.get(`${market} ${series} ${dayAfter(on, -back)}`);
        if (found) return found;
      }
    throw new Missing("not computable", `no quote of ${market} on ${on}`);
  }

  inCurrency(price, on, scheme) {
    const currency = this.currency ?? currencyOf(price);
    return { amount: this.perTonne(price, currency, on, this.bridge(scheme)), currency };
  }

  // A price per 1,000 kg in a currency, at the rate of a day or of the last day before that has one.
  perTonne(price, currency, on, days) {
    const own = currencyOf(price);
    const unit = price.unit === "USc/lb" ? "lb" : price.unit.split("/")[1];
    let amount = Exact.of(price.amount).times(1000).by(KILOGRAMS[unit]);
    if (price.unit === "USc/lb") amount = amount.by(100);
    if (own === currency) return amount;
    for (let back = 0; back <= days; back++) {
      const day = dayAfter(on, -back);
      const there = this.books.read.get(`${own}/${currency} ${day}`);
      if (there) return amount.times(there);
      const turned = this.books.read.get(`${currency}/${own} ${day}`);
      if (turned) return amount.by(turned);
    }
    throw new Missing("not computable", `no rate of ${own} against ${currency} on ${on}`);
  }

  // The rows of the contract in the table of dues, with what was paid.
  rows() {
    const order = (line) => [DUTIES.indexOf(line.duty), line.payee, line.currency ?? "", line.dueOn || "9999-12-31",
      line.receivedOn, line.shipment, line.standing, line.scheme];
    const payments = this.under("payment.made");
    const sealed = payments.filter((e) => !e.body.money).map((e) => [dutyOf(e), e.body.payee].join());
    const lines = this.lines().map((line) => (
      // With a payment sealed, nobody can tell what is open of its duty.
      line.sum !== null && sealed.includes([line.duty, line.payee].join())
        ? { ...line, sum: null, standing: "not disclosed" } : line)).sort((a, b) => inOrder(order(a), order(b)));
    for (const line of lines) {
      const unit = 10n ** BigInt(digitsOf(line.currency));
      Object.assign(line, { due: line.sum === null ? null : line.sum.times(unit).ceil(), paid: 0n, late: 0 });
    }
    const age = (e) => [Number(e.body.towards !== "advance"), e.on, e.body.payment];
    for (const e of payments.filter((e) => e.body.money)
      .sort((a, b) => inOrder(age(a), age(b))))
      this.setOff(e, lines);
    return lines.map((line) => this.rowOf(line));
  }

  setOff(payment, lines) {
    const { body, on } = payment;
    let left = Exact.of(body.money.amount).times(10n ** BigInt(digitsOf(body.money.currency))).floor();
    const mine = lines.filter((line) => line.duty === dutyOf(payment) && line.payee === body.payee
      && line.currency === body.money.currency && line.due !== null);
    const named = (line) => (line.shipment === body.shipment ? 0 : 1);
    for (const line of mine.sort((a, b) => named(a) - named(b))) {
      const open = line.due - line.paid;
      const part = left < open ? left : open;
      if (part <= 0n) continue;
      line.paid += part;
      left -= part;
      if (line.dueOn) line.late = Math.max(line.late, daysBetween(line.dueOn, on));
    }
  }

  rowOf(line) {
    const open = line.due === null ? null : line.due - line.paid;
    if (open && line.dueOn) line.late = Math.max(line.late, daysBetween(line.dueOn, this.asOf));
    const sum = (minor) => (minor === null || !line.currency ? "" : decimals(minor, digitsOf(line.currency)));
    return [
      this.body.contract, line.shipment, line.duty, line.scheme, line.payee, line.standing, this.body.seller,
      String(line.entry), line.dueOn, line.currency ?? "", sum(line.due), sum(line.due === null ? null : line.paid), sum(open),
      String(Math.max(0, line.late)),
    ];
  }
}

// Grams that a receipt is paid for. Up to the franchise the natural loss is the buyer's.
function paidWeight(shipped, landed, by, franchise) {
  if (franchise === undefined) return Exact.of(by === "landed" ? landed : shipped);
  const borne = Exact.of(franchise).times(shipped).by(100);
  const excess = greatest([Exact.of(shipped - landed).minus(borne), new Exact(0n)]);
  return Exact.of(shipped).minus(excess).plus(by === "landed" ? Math.max(0, landed - shipped) : 0);
}
