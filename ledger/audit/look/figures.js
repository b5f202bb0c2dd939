// The tables of figures: worked out from the entries, and compared with those of the pack.

const CAUSES = ["received", "sold", "returned", "written off", "converted", "transferred", "lapsed",
  "corrected"];
const COLUMNS = {
  balances: ["scheme", "commodity", "site", "production", "origin", "grade", "form", "received_kg", "sold_kg",
    "returned_kg", "written_off_kg", "converted_kg", "transferred_kg", "lapsed_kg", "corrected_kg", "closing_kg", "lowest_kg", "lowest_on"],
  stock: ["lot", "form", "site", "on_hand_kg"],
  dues: ["contract", "shipment", "duty", "scheme", "payee", "standing", "cooperative", "entry", "due_on", "currency",
    "due", "paid", "outstanding", "late_days"],
  "sampled-sales": ["sale", "entry", "ticket"],
};
// Options of terms that this page reads only where they say what stands here.
const PLAIN = { method: "credit", within: "as recorded" };
const BEYOND = {
  terms: ["joint_outputs", "measured_yields", "seasonal_differential", "late_interest"],
  account: ["grades", "below_zero_kg", "transfers"],
  market: ["average"],
};
const FACTS = /^(certificate\..*|shipment\.dispatched|lot\.rejected|lot\.written_off)$/;

function isGiven(value) { return value !== undefined && value !== null && !(Array.isArray(value) && !value.length); }

// Schemes whose figures are beyond this page, with the option of their terms that is.
function beyondHere(books) {
  const found = new Map();
  for (const { body } of books.all("terms.published")) {
    const option = BEYOND.terms.find((name) => isGiven(body[name]))
      ?? BEYOND.account.find((name) => isGiven(body.account?.[name]))
      ?? BEYOND.market.find((name) => isGiven(body.market?.[name]))
      ?? ((body.method ?? PLAIN.method) === PLAIN.method ? null : "method");
    if (option) found.set(body.scheme, option);
  }
  for (const { body } of [...books.all("contract.signed"), ...books.all("sale.dispatched")])
    for (const { claims = [] } of [body, ...(body.lines ?? [])])
      for (const { scheme, proportion } of claims) if (isGiven(proportion)) found.set(scheme, "controlled blending");
  return found;
}

function balanceRows(books, asOf) {
  return sorted([...books.runs.keys()].filter((key) => key.startsWith("account "))).map((key) => {
    const run = books.runs.get(key).filter((post) => post.on <= asOf);
    const sums = CAUSES.map((cause) => run.reduce((sum, post) => sum + (post.cause === cause ? post.grams : 0), 0));
    const closing = run.reduce((sum, post) => sum + post.grams, 0);
    const [low, on] = lowsOf(run)[0] ?? [0, ""];
    return [...[...key.slice(8).split("|"), "all", "all"].slice(0, 7), ...[...sums, closing, low].map((grams) => decimals(grams, 3)), on];
  });
}

function stockRows(books, asOf) {
  const rows = [];
  const moves = books.all("lot.moved").filter((e) => e.on <= asOf && e.body.to_site)
    .sort((a, b) => inOrder([a.on, a.slot], [b.on, b.slot]));
  const movedTo = new Map(moves.map((e) => [e.body.lot, e.body.to_site]));
  for (const key of sorted([...books.runs.keys()].filter((one) => one.startsWith("stock ")))) {
    const grams = books.runs.get(key).reduce((sum, post) => sum + (post.on <= asOf ? post.grams : 0), 0);
    if (!grams) continue;
    const name = key.slice(6);
    if (!books.lots.has(name)) { rows.push([name, "", "", decimals(grams, 3)]); continue; }
    const [, lot] = books.lot(name);
    rows.push([name, lot.form, movedTo.get(name) ?? books.site(books.lots.get(name)[0].body), decimals(grams, 3)]);
  }
  return rows;
}

// The sales to walk back: least SHA-256 of "root:number of the entry", so that nobody picks them.
async function sampledRows(books, root, asOf, pace) {
  const claimed = books.all("sale.dispatched")
    .filter((e) => e.on <= asOf && e.body.lines.some((line) => line.claims?.length));
  const tickets = [];
  for (const e of claimed) {
    tickets.push([hex(await sha256(new TextEncoder().encode(`${root}:${e.seq}`))), e.seq, e.body.sale]);
    await pace.rest("Drawing sales", tickets.length, claimed.length);
  }
  return tickets.sort(inOrder).slice(0, 3).map(([ticket, seq, sale]) => [sale, String(seq), ticket]);
}

async function dueRows(books, asOf, left, beyond, pace) {
  const signed = books.all("contract.signed").filter((e) => e.on <= asOf);
  const rows = [];
  for (const [done, e] of signed.sort((a, b) => inOrder([a.body.contract], [b.body.contract])).entries()) {
    const scheme = (e.body.claims ?? []).map((claim) => claim.scheme).find((one) => beyond.has(one));
    if (scheme) left.set(e.body.contract, `dues of contract ${e.body.contract}: the terms of ${scheme} say ${beyond.get(scheme)}`);
    else rows.push(...new Contract(books, e, asOf).rows());
    await pace.rest("Working out dues", done, signed.length);
  }
  return rows;
}

// No stock and no account may fall below zero on any date. An account may be left short by a
// fact that must be recorded, or by a correction that says so: that is an open breach.
function checkRules(books, beyond, bad) {
  const breaches = [];
  for (const [key, run] of books.runs) {
    const [low, on] = lowsOf(run)[0];
    if (low >= 0 || (key.startsWith("account ") && beyond.has(schemeOf(key.slice(8))))) continue;
    const sold = run.reduce((last, post) => Math.max(last, post.cause === "sold" ? books.counts.get(post.slot)?.seq ?? 0 : 0), 0);
    const excused = books.entries.some((e) => e.seq > sold && (FACTS.test(e.kind) || e.body.accept_breach));
    const told = `${key} stands at ${decimals(low, 3)} kg on ${on}`;
    if (key.startsWith("account ") && excused) breaches.push(told);
    else bad.push(told);
  }
  return breaches;
}

// --- CSV (RFC 4180) ------------------------------------------------------------------

function csvRows(text) {
  const rows = [];
  let [row, cell, quoted, began] = [[], "", false, false];
  for (let at = 0; at < text.length; at++) {
    const letter = text[at];
    if (quoted) {
      if (letter !== '"') cell += letter;
      else if (text[at + 1] === '"') { cell += letter; at += 1; }
      else quoted = false;
    } else if (letter === '"' && !began) [quoted, began] = [true, true];
    else if (letter === ",") { row.push(cell); [cell, began] = ["", false]; }
    else if (letter === "\n" || letter === "\r") {
      if (letter === "\r" && text[at + 1] === "\n") at += 1;
      rows.push([...row, cell]);
      [row, cell, began] = [[], "", false];
    } else { cell += letter; began = true; }
  }
  if (quoted) throw new Refused("a quote is not closed");
  if (cell || row.length) rows.push([...row, cell]);
  return rows;
}

function csvText(rows) {
  const cell = (text) => (/[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
  return rows.map((row) => `${row.map(cell).join(",")}\r\n`).join("");
}

// Compares a table of the pack with what the entries give; rows that are left out are passed over.
async function compareFigure(source, name, computed, leftOut, bad) {
  const file = `data/figures/${name}.csv`;
  if (!source.has(file)) { bad.push(`${file} is missing, so there is nothing to compare`); return; }
  let rows;
  let text;
  try { text = await source.text(file); rows = csvRows(text); }
  catch (error) { bad.push(`${file}: ${error.message}`); return; }
  const columns = COLUMNS[name];
  if (!rows.length || rows[0].join() !== columns.join()) {
    bad.push(`${file}: the first line does not name the columns`);
    return;
  }
  const isKept = (row) => !(name === "balances" || name === "dues") || !leftOut.has(row[0]);
  const theirs = rows.slice(1).filter(isKept);
  const ours = computed.filter(isKept);
  const [said, given] = [theirs, ours].map((some) => new Set(some.map((row) => row.join("\n"))));
  for (const row of theirs)
    if (!given.has(row.join("\n"))) bad.push(`${short(row.join(", "))} is claimed, but not what the entries give`);
  for (const row of ours)
    if (!said.has(row.join("\n"))) bad.push(`${short(row.join(", "))} is what the entries give, but not claimed`);
  if (!bad.length && csvText([columns, ...ours]) !== csvText([columns, ...theirs])) bad.push(`${file}: its rows are in another order`);
  if (!bad.length && theirs.length === rows.length - 1 && text !== csvText([columns, ...ours]))
    bad.push(`${file} is not written as packs are`);
}
