// Walking a lot or a sale back to what was bought, and a lot forward to who got it.

// Batches and receipts behind some lots, the latest first.
function stepsBack(books, lots, most = 400) {
  const steps = [];
  const seen = new Set();
  const waiting = [...lots];
  while (waiting.length && steps.length < most) {
    const name = waiting.shift();
    if (seen.has(name) || !books.lots.has(name)) continue;
    seen.add(name);
    const [entry, part] = books.lot(name);
    const inputs = entry.kind === "batch.made" ? entry.body.inputs : [];
    steps.push({ lot: name, form: part.form, entry, part, inputs });
    waiting.push(...inputs.map((one) => one.lot));
  }
  return { steps, more: waiting.some((name) => !seen.has(name)) };
}

// The received lots in a lot, with the share of each and what it weighs in a mass.
function sourcesOf(books, lot, grams) {
  return [...books.mix(lot)].map(([name, share]) => {
    const [entry, part] = books.lot(name);
    return {
      lot: name, share, grams: share.times(grams), shipment: entry.body.shipment, contract: entry.body.contract ?? "",
      from: part.seller ?? entry.body.supplier ?? "", organic: part.organic, origin: part.origin ?? "", on: entry.on,
      schemes: books.counting(entry, part).map((terms) => terms.scheme),
    };
  }).sort((a, b) => (b.share.below(a.share) ? -1 : a.share.below(b.share) ? 1 : inOrder([a.lot], [b.lot])));
}

// Sales in which something of a lot went, and lots it went into that are not sold by name.
function salesAhead(books, lot) {
  const into = new Map();
  for (const e of books.all("batch.made"))
    for (const part of e.body.inputs) {
      if (!into.has(part.lot)) into.set(part.lot, []);
      into.get(part.lot).push(...e.body.outputs.map((one) => one.lot));
    }
  const reached = new Set([lot]);
  for (const name of reached) for (const next of into.get(name) ?? []) reached.add(next);
  const sales = [];
  for (const e of books.all("sale.dispatched"))
    for (const line of e.body.lines)
      if (reached.has(line.lot)) sales.push({ sale: e.body.sale, on: e.on, customer: e.body.customer, line, entry: e });
  return { reached, sales };
}
