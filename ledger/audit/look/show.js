// The page. Whatever comes from a pack is put in as text, never as markup.

const find = (id) => document.getElementById(id);
const MOST_ROWS = 200;

function make(tag, about = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(about)) {
    if (name === "text") made.textContent = value;
    else if (name === "click") made.addEventListener("click", value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null) made.setAttribute(name, value);
  }
  made.append(...inside);
  return made;
}

function fill(id, ...inside) { find(id).replaceChildren(...inside); }

// A table with a caption; further rows appear when they are asked for.
function tableOf(caption, columns, rows, { actions = {} } = {}) {
  const body = make("tbody");
  const isNumber = columns.map((_, at) => rows.length > 0 && rows.every((row) => /^(-?[0-9]+(\.[0-9]+)?)?$/.test(row[at] ?? "")));
  const table = make("table", {}, make("caption", { text: `${caption} (${rows.length})` }),
    make("thead", {}, make("tr", {}, ...columns.map((name, at) => (
      make("th", { scope: "col", text: name.replaceAll("_", " "), class: isNumber[at] ? "number" : null }))))), body);
  const cell = (text, at) => {
    const isOne = text && text.length <= 40 && !/\s/.test(text);
    const held = make("td", { class: isNumber[at] ? "number" : isOne ? "whole" : null });
    if (actions[at] && text) held.append(make("button", { type: "button", class: "plain", text, click: () => actions[at](text) }));
    else held.textContent = text ?? "";
    return held;
  };
  let shown = 0;
  const more = make("button", { type: "button", click: () => add() });
  const add = () => {
    const next = rows.slice(shown, shown + MOST_ROWS);
    body.append(...next.map((row) => make("tr", {}, ...columns.map((_, at) => cell(row[at], at)))));
    shown += next.length;
    more.textContent = `Show ${Math.min(MOST_ROWS, rows.length - shown)} more of ${rows.length - shown}`;
    more.hidden = shown >= rows.length;
  };
  add();
  return make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": caption }, table, more);
}

function listOf(id, sentences) {
  fill(id, ...(sentences.length ? sentences : ["Nothing."]).map((text) => make("li", { text })));
}

// --- The verdict ---------------------------------------------------------------------

function showVerdict(found) {
  const failing = found.parts.filter((part) => found.bad[part].length);
  const beside = found.leftOut.size ? ` Left out: ${found.leftOut.size}, see Not checked.` : "";
  find("verdict").className = found.holds ? "holds" : "fails";
  find("verdict").textContent = found.holds
    ? `All that was checked holds.${beside}`
    : `Does not hold: ${failing.join(", ")}.${beside}`;
  fill("about", ...[
    ["Maker", found.maker ?? "not said"], ["Trade dates up to", found.scope?.as_of ?? "not said"],
    ["Entries", String(found.record.leaves.length)], ["Tree head", found.record.root],
    ["Signed up to", found.signed ? `${found.signed} entries` : "nothing"],
  ].flatMap(([name, value]) => [make("dt", { text: name }), make("dd", { text: value })]));
  fill("parts", tableOf("Parts of the check", ["Part", "Result", "What was found"], found.parts.map((part) => [
    part, found.leftOut.has(part) ? "not checked" : found.bad[part].length ? "does not hold" : "holds",
    found.bad[part].length ? `${found.bad[part].length} problems, listed below` : detailOf(found, part)])));
  fill("problems", ...failing.flatMap((part) => [make("h4", { text: part }),
    make("ul", {}, ...found.bad[part].slice(0, MOST_ROWS).map((text) => make("li", { text })))]));
  find("problems-part").hidden = !failing.length;
  const lists = listsOf(found);
  listOf("proved", lists.proved);
  listOf("claimed", lists.claimed);
  listOf("not-checked", lists.notChecked);
}

function detailOf({ record, digests, figures, signed, source, breaches }, part) {
  const rows = figures[part.replace(" ", "-")];
  if (rows) return `${rows.length} rows, as the entries give`;
  const papers = source.names.filter((name) => name.startsWith("data/documents/")).length;
  return {
    "zip file": "as packs are written", "files and digests": `${digests.size} files, as they were packed`,
    "scope and tree head": "as packs are written", "tree head": "that of the entries",
    "chain of entries": `${record.leaves.length} entries, each linked to the one before`,
    "signed checkpoints": signed ? `the first ${signed} entries are signed` : "none",
    "sealed values": `${record.shown} shown, ${record.hidden} stay sealed`,
    "attached papers": papers ? `${papers}, as recorded` : "none",
    "rules of the books": breaches.length ? "broken nowhere; open breaches, see Proved" : "no stock and no account falls below zero",
    "tree head kept from before": "the entries begin with it", "key pinned on enrolment": "it leads to the last signature",
  }[part] ?? "";
}

// --- Figures and reports -------------------------------------------------------------

async function showFigures(found) {
  const tables = [];
  for (const name of FIGURES) {
    try {
      const [columns, ...rows] = csvRows(await found.source.text(`data/figures/${name}.csv`));
      const lotOrSale = { stock: { 0: openTrace }, "sampled-sales": { 0: openTrace, 1: openEntry }, dues: { 7: openEntry } };
      tables.push(tableOf(name.replace("-", " "), columns, rows, { actions: found.books ? lotOrSale[name] : {} }));
    } catch (error) { tables.push(make("p", { text: `${name}: ${error.message}` })); }
  }
  fill("figures", ...tables);
}

function showReports(found) {
  const names = found.source.names.filter((name) => name.startsWith("data/reports/"));
  fill("reports", ...names.map((name) => make("li", {}, make("button", {
    type: "button", text: name.slice(13), click: () => openReport(found, name) }))));
  fill("report");
  if (!names.length) fill("reports", make("li", { text: "The pack holds no reports." }));
}

async function openReport(found, name) {
  if (!name.endsWith(".csv")) {
    const types = { pdf: "application/pdf", svg: "text/plain", txt: "text/plain" };
    const type = types[name.split(".").at(-1)] ?? "application/octet-stream";
    const address = URL.createObjectURL(new Blob([found.source.files.get(name)], { type }));
    fill("report", make("p", {}, make("a", { href: address, target: "_blank", rel: "noopener", text: `Open ${name.slice(13)}` }),
      " What a report says is claimed by the maker; only the tables of figures were worked out again."));
    return;
  }
  try {
    const [columns, ...rows] = csvRows(await found.source.text(name));
    fill("report", tableOf(name.slice(13), columns, rows));
  } catch (error) { fill("report", make("p", { text: `${name}: ${error.message}` })); }
}

// --- Entries -------------------------------------------------------------------------

let current = null;

function entryAt(place) { return current.byPlace.get(place) ?? null; }

function entryCard(place, heading) {
  const leaf = current.record.leaves[place];
  if (!leaf) return make("article", {}, make("h4", { text: heading }), make("p", { text: "There is none." }));
  const entry = entryAt(place);
  const lines = [["Number", String(place)], ["Digest", hex(leaf)]];
  if (!entry) return make("article", {}, make("h4", { text: heading }), factsOf(lines),
    make("p", { text: "The pack shows only the digest of this entry, or the line is no entry." }));
  lines.push(["Names before it", entry.prev], ["Kind", entry.kind], ["Happened on", entry.on],
    ["Written at", entry.at], ["Written by", entry.by]);
  return make("article", {}, make("h4", { text: heading }), factsOf(lines),
    make("pre", { tabindex: "0", "aria-label": `Body of entry ${place}`, text: JSON.stringify(entry.body, null, 2) }));
}

function factsOf(lines) {
  return make("dl", {}, ...lines.flatMap(([name, value]) => [make("dt", { text: name }), make("dd", { text: value })]));
}

function openEntry(number, { move = true } = {}) {
  const place = Number(number);
  find("entry-number").value = String(place);
  fill("entry", entryCard(place - 1, "The entry before"), entryCard(place, "The entry"), entryCard(place + 1, "The entry after"));
  find("entry").children[1].classList.add("chosen");
  if (move) find("entries-part").scrollIntoView();
}

// --- Trace ---------------------------------------------------------------------------

function openTrace(name, { move = true } = {}) {
  find("trace-name").value = name;
  const books = current.books;
  try {
    const sale = books?.named.get(`sale.dispatched ${name}`);
    if (!books) throw new Refused("nothing can be traced, because the books were not worked out");
    if (!sale && !books.lots.has(name)) throw new Refused(`no lot and no sale is called ${short(name)}`);
    fill("trace", ...(sale ? traceOfSale(books, sale) : traceOfLot(books, name)));
  } catch (error) { fill("trace", make("p", { text: error.message })); }
  if (move) find("trace-part").scrollIntoView();
}

function traceOfSale(books, sale) {
  const lines = sale.body.lines.map((line) => [line.lot, line.mass_kg,
    (line.claims ?? []).map((claim) => `${claim.scheme}, ${claim.custody}`).join("; ") || "none"]);
  return [
    make("p", { text: `Sale ${sale.body.sale} of ${sale.on} to ${sale.body.customer}, entry ${sale.seq}.` }),
    tableOf("What was sold", ["lot", "kg", "claims"], lines, { actions: { 0: openTrace } }),
    ...sale.body.lines.flatMap((line) => behind(books, line.lot, gramsOf(line.mass_kg), `${line.mass_kg} kg of lot ${line.lot}`)),
  ];
}

function traceOfLot(books, name) {
  const [entry, part] = books.lot(name);
  const kg = part.mass_kg ?? part.net_landed_kg;
  const { sales } = salesAhead(books, name);
  return [
    make("p", { text: `Lot ${name}, ${part.form}, ${kg} kg, ${entry.kind === "batch.made" ? `made by batch ${entry.body.batch}`
      : `received with shipment ${entry.body.shipment}`} on ${entry.on}, entry ${entry.seq}.` }),
    ...behind(books, name, gramsOf(kg), `lot ${name}`),
    tableOf("Sales that hold something of it", ["sale", "day", "customer", "lot", "kg", "entry"],
      sales.map((one) => [one.sale, one.on, one.customer, one.line.lot, one.line.mass_kg, String(one.entry.seq)]),
      { actions: { 0: openTrace, 3: openTrace, 5: openEntry } }),
  ];
}

function behind(books, lot, grams, what) {
  const percent = (share) => `${decimals(share.times(1000000).floor(), 4)} %`;
  const { steps, more } = stepsBack(books, [lot]);
  const found = [
    tableOf(`What was bought for ${what}`, ["lot", "share", "kg", "from", "contract", "shipment", "origin", "counts for", "day"],
      sourcesOf(books, lot, grams).map((one) => [one.lot, percent(one.share), decimals(one.grams.floor(), 3), one.from,
        one.contract, one.shipment, one.origin, one.schemes.join(", "), one.on]), { actions: { 0: openTrace } }),
    tableOf(`Steps behind lot ${lot}`, ["lot", "form", "step", "day", "from", "entry"], steps.map((step) => [
      step.lot, step.form, step.entry.body.step ?? "received", step.entry.on,
      step.inputs.map((one) => `${one.lot} ${one.mass_kg}`).join(" + "), String(step.entry.seq)]),
    { actions: { 0: openTrace, 5: openEntry } }),
  ];
  if (more) found.push(make("p", { text: "There are more steps than are shown here." }));
  return found;
}

// --- Choosing and running ------------------------------------------------------------

function tell(what, done, of) {
  const part = of ? Math.min(100, Math.round((100 * done) / of)) : 0;
  find("progress").value = part;
  const text = `${what}, ${part} %`;
  if (find("progress-text").textContent !== text) find("progress-text").textContent = text;
}

async function run(makeSource) {
  document.body.dataset.state = "busy";
  find("busy").hidden = false;
  find("result").hidden = true;
  find("trouble").textContent = "";
  try {
    tell("Opening the pack", 0, 1);
    const given = { key: find("key").value.trim(), last: find("last").value.trim() ? `${find("last").value.trim()}\n` : "" };
    const found = await checkPack(await makeSource(), given, new Pace(tell));
    found.given = given;
    current = { ...found, byPlace: new Map(found.record.entries.map((entry) => [entry.place, entry])) };
    showVerdict(found);
    await showFigures(found);
    showReports(found);
    openEntry(0, { move: false });
    fill("trace");
    const names = found.books ? [...found.books.lots.keys(), ...found.books.all("sale.dispatched").map((e) => e.body.sale)] : [];
    fill("names", ...names.slice(-2000).map((value) => make("option", { value })));
    find("result").hidden = false;
    find("verdict").focus();
  } catch (error) {
    find("trouble").textContent = error instanceof Unreadable || error instanceof Refused
      ? `The pack cannot be read: ${error.message}.` : `This page failed, which is a mistake in it: ${error.message}`;
    document.body.dataset.failed = String(error.message);
    find("trouble").focus();
  }
  find("busy").hidden = true;
  document.body.dataset.state = "done";
}

function start() {
  find("zip").addEventListener("change", (event) => {
    if (event.target.files.length) run(() => zipSource(event.target.files[0]));
  });
  find("folder").addEventListener("change", (event) => {
    const files = [...event.target.files];
    if (files.length) run(() => folderSource(files));
  });
  const drop = find("drop");
  document.addEventListener("dragover", (event) => { event.preventDefault(); drop.classList.add("over"); });
  document.addEventListener("dragleave", () => drop.classList.remove("over"));
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    drop.classList.remove("over");
    const [file] = event.dataTransfer.files;
    const entry = event.dataTransfer.items[0]?.webkitGetAsEntry?.();
    if (entry?.isDirectory) find("trouble").textContent = "For a folder, use the button Choose the folder.";
    else if (file) run(() => zipSource(file));
  });
  find("entry-form").addEventListener("submit", (event) => { event.preventDefault(); openEntry(find("entry-number").value, { move: false }); });
  find("entry-before").addEventListener("click", () => openEntry(Math.max(0, Number(find("entry-number").value) - 1), { move: false }));
  find("entry-after").addEventListener("click", () => openEntry(Number(find("entry-number").value) + 1, { move: false }));
  find("trace-form").addEventListener("submit", (event) => { event.preventDefault(); openTrace(find("trace-name").value.trim(), { move: false }); });
  document.body.dataset.state = "ready";
}

// For whoever wants to check many packs: files by name, or a zip, as Blobs.
globalThis.look = {
  async check(pack, given = {}) {
    try {
      const source = pack instanceof Blob ? await zipSource(pack) : new Source(new Map(Object.entries(pack)));
      const found = await checkPack(source, { key: "", last: "", ...given }, new Pace());
      return { holds: found.holds, failing: found.parts.filter((part) => found.bad[part].length),
        leftOut: [...found.leftOut.keys()], problems: found.bad };
    } catch (error) {
      if (!(error instanceof Unreadable || error instanceof Refused)) throw error;
      return { holds: false, failing: ["cannot be read"], leftOut: [], problems: { "cannot be read": [error.message] } };
    }
  },
};

start();
