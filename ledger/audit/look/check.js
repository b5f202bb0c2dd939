// The whole check: what holds, what does not, and what that means.

const PARTS = [
  "zip file", "files and digests", "scope and tree head", "chain of entries", "tree head",
  "tree head kept from before", "signed checkpoints", "key pinned on enrolment", "sealed values",
  "rules of the books", "balances", "stock", "dues", "sampled sales", "attached papers",
];

// given: { key, last } as the reader has them from elsewhere, or empty.
async function checkPack(source, given, pace) {
  const bad = Object.fromEntries(PARTS.map((part) => [part, []]));
  const notes = [];
  const digests = await digestsOf(source, pace);
  await refuseNewer(source, digests);
  const scope = await readScope(source, bad["scope and tree head"]);
  const head = await readHead(source, bad["scope and tree head"]);
  const record = await readRecord(source, scope, bad, pace);
  if (scope && scope.entries !== record.leaves.length)
    bad["scope and tree head"].push(`the figures are for ${scope.entries} entries, but ${record.leaves.length} are here`);
  if (head && (head.root !== record.root || head.size !== record.leaves.length))
    bad["tree head"].push(`the tree head is ${head.size}:${head.root}, but the entries give ${record.leaves.length}:${record.root}`);
  const maker = record.entries.find((entry) => entry.place === 0)?.body.organisation_name;
  await checkBag(source, digests, infoOf(source, scope, maker), bad["files and digests"]);
  const signed = await checkSigned(source, record, given, bad, notes);
  const found = {
    source, scope, head, record, digests, bad, notes, maker, signed, leftOut: new Map(), breaches: [], figures: {},
    parts: PARTS.filter((part) => (part === "zip file" ? source.around : true)
      && (part === "tree head kept from before" ? given.last : true)
      && (part === "key pinned on enrolment" ? given.key : true)),
  };
  if (source.around) bad["zip file"].push(...source.around);
  await checkFigures(found, pace);
  checkPapers(found);
  found.holds = PARTS.every((part) => !bad[part].length);
  return found;
}

async function checkFigures(found, pace) {
  const { record, scope, source, bad, leftOut } = found;
  if (scope?.portion) {
    for (const part of ["rules of the books", "balances", "stock", "dues", "sampled sales"])
      leftOut.set(part, `${part}: the pack shows a part of the ledger, whose figures this page does not work out`);
    return;
  }
  const unknown = record.entries.find((e) => !QUIET.includes(e.kind) && !Object.hasOwn(MOVING, e.kind)
    && !Object.hasOwn(NAMED, e.kind));
  if (unknown) {
    for (const part of ["rules of the books", "balances", "stock", "dues", "sampled sales"])
      leftOut.set(part, `${part}: entry ${unknown.seq} is of a kind that this page does not know, ${short(unknown.kind)}`);
    return;
  }
  const refused = new Map();
  const version = record.entries[0]?.body.format_version;
  if (version > VERSION) refused.set(-1, `the entries are in format ${version}; get the page of the present version`);
  const books = await Books.of(record.entries, refused, pace);
  found.books = books;
  const beyond = beyondHere(books);
  for (const [scheme, option] of beyond) leftOut.set(scheme, `balances of scheme ${scheme}: its terms say ${option}`);
  checkNames(books, refused);
  bad["rules of the books"].push(...refused.values());
  found.breaches = checkRules(books, beyond, bad["rules of the books"]);
  if (!scope) {
    for (const name of FIGURES) bad[name.replace("-", " ")].push(`${SCOPE} does not say for which trade date, so they were not worked out`);
    return;
  }
  const root = found.head?.root ?? record.root;
  const work = {
    balances: () => balanceRows(books, scope.as_of), stock: () => stockRows(books, scope.as_of),
    dues: () => dueRows(books, scope.as_of, leftOut, beyond, pace),
    "sampled-sales": () => sampledRows(books, root, scope.as_of, pace),
  };
  for (const name of FIGURES) {
    const part = bad[name.replace("-", " ")];
    try {
      found.figures[name] = await work[name]();
      await compareFigure(source, name, found.figures[name], leftOut, part);
    } catch (error) { part.push(`the entries cannot be added up: ${error.message}`); }
    await pace.rest("Comparing figures", FIGURES.indexOf(name), FIGURES.length);
  }
}

// What an entry names was recorded before it: parties, contracts, sales and lots.
function checkNames(books, refused) {
  const asked = [["contract.signed", "seller", "party.registered"], ["payment.made", "contract", "contract.signed"],
    ["price.fixed", "contract", "contract.signed"], ["advance.requested", "contract", "contract.signed"], ["shipment.dispatched", "contract", "contract.signed"],
    ["shipment.received", "contract", "contract.signed"], ["sale.returned", "sale", "sale.dispatched"]];
  const refuse = (e, name) => refused.set(e.seq, `entry ${e.seq} (${e.kind}): ${short(name)} is not recorded before it`);
  for (const [kind, member, of] of asked)
    for (const e of books.all(kind)) {
      const found = books.named.get(`${of} ${e.body[member]}`);
      if (e.body[member] !== undefined && !(found && found.slot < e.seq)) refuse(e, e.body[member]);
    }
  for (const [kind, member] of [["batch.made", "inputs"], ["sale.dispatched", "lines"]])
    for (const e of books.all(kind))
      for (const { lot } of e.body[member] ?? []) {
        const found = books.lots.get(lot);
        if (!(found && found[0].slot < e.seq)) refuse(e, lot);
      }
}

function checkPapers({ record, digests, source, bad }) {
  const papers = new Map(record.entries.filter((e) => e.kind === "document.attached")
    .map((e) => [e.body.sha256, e.body.size]));
  for (const [name, digest] of digests) {
    if (!name.startsWith("data/documents/")) continue;
    if (!name.endsWith(`/${digest}`) || papers.get(digest) !== source.files.get(name).size)
      bad["attached papers"].push(`${name} is not a paper that an entry records`);
  }
}

// --- The three lists -----------------------------------------------------------------

function listsOf(found) {
  const { bad, record, scope, given = {} } = found;
  const holds = (part) => !bad[part].length;
  const [proved, claimed, notChecked] = [[], [], [...found.notes]];
  const chained = holds("chain of entries") && holds("tree head");
  if (holds("files and digests")) proved.push(`The pack is whole: none of its ${found.digests.size} files is missing, added or changed since it was packed.`);
  if (chained) proved.push(`The record of ${record.leaves.length} entries hangs together from the first to the last, under the tree head ${record.root}.`);
  if (given.last && holds("tree head kept from before")) proved.push("The entries begin with exactly those of the tree head that you kept.");
  if (given.key && found.signed && holds("key pinned on enrolment") && holds("signed checkpoints"))
    proved.push(`The first ${found.signed} entries were signed with the key that you gave, or one that it leads to.`);
  if (record.shown && holds("sealed values")) proved.push(`Of the sealed values, ${record.shown} are shown, and each is the one that was recorded.`);
  const right = FIGURES.map((name) => name.replace("-", " ")).filter((part) => holds(part) && !found.leftOut.has(part) && found.books && scope);
  if (right.length && chained && holds("rules of the books"))
    proved.push(`These figures follow from the entries, up to ${scope.as_of}: ${right.join(", ")}${found.leftOut.size ? ", but for what is listed as not recomputed" : ""}.`);
  for (const breach of found.breaches) proved.push(`An open breach, recorded as such or as what led to it: ${breach}.`);
  claimed.push(`What the entries say happened, on the word of ${found.maker ?? "the maker"}.`);
  claimed.push("When each entry was written: the moment is the clock of the maker's computer.");
  if (scope) claimed.push(`That the pack was made by ${scope.made_by} at ${scope.made_at}.`);
  if (!given.key && found.signed) claimed.push(`That the first ${found.signed} entries are signed by the maker: the key came with the pack, which proves nothing.`);
  claimed.push("What the reports and the attached papers say.");
  for (const sentence of found.leftOut.values()) notChecked.push(`Not recomputed here: ${sentence}.`);
  if (!given.last) notChecked.push("Whether the whole record was rewritten before it was packed: give the last checkpoint that you kept.");
  notChecked.push("Rules of the books beyond these: that every batch balances, that no lot and no account falls below zero, "
    + "that what is named is recorded before, and that the maker had a certificate. Forms of entries, holds, custody models: use evenweight check.");
  notChecked.push("Proofs between checkpoints, cosignatures and timestamps: use evenweight check.");
  notChecked.push("Whether everything was recorded, and recorded truly. Compare with papers, partners and the goods themselves.");
  if (record.hidden) notChecked.push(`What ${record.hidden} sealed values say that the pack does not show.`);
  if (record.withheld) notChecked.push(`What the ${record.withheld} entries say of which the pack shows only the digest.`);
  notChecked.push("What the scheme, the certifier or the law asks beyond these rules: their published texts have the last word.");
  return { proved, claimed, notChecked };
}
