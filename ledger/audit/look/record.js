// The record: canonical JSON, entries, the chain, the tree over it, and sealed values.

const ENTRIES = "data/entries.jsonl";
const SHOWN = "data/disclosures.jsonl";
const MAX_DEPTH = 32;
const ENTRY = ["body", "kind", "occurred_on", "prev", "recorded_at", "recorded_by", "seq"];

// --- Canonical JSON (RFC 8785), in the profile of entries ----------------------------

function canonical(text) {
  let value;
  try { value = JSON.parse(text); } catch (error) { throw new Refused("the line is not JSON"); }
  if (written(value, 1) !== text) throw new Refused("the JSON is not in canonical form");
  return value;
}

function written(value, depth) {
  if (value === null || typeof value === "boolean") return String(value);
  if (typeof value === "string") {
    if (!wellFormed(value)) throw new Refused("a text holds half of a character");
    return JSON.stringify(value);
  }
  if (typeof value === "number") {
    if (!Number.isSafeInteger(value)) throw new Refused("a number is no whole number within 2^53 - 1");
    return Object.is(value, -0) ? "-0?" : String(value);
  }
  if (depth > MAX_DEPTH) throw new Refused(`the JSON is nested more than ${MAX_DEPTH} levels deep`);
  if (Array.isArray(value)) return `[${value.map((part) => written(part, depth + 1)).join(",")}]`;
  const members = sorted(Object.keys(value)).map((name) => {
    if (!/^[\x00-\x7f]*$/.test(name)) throw new Refused("the name of a member is not ASCII");
    return `${JSON.stringify(name)}:${written(value[name], depth + 1)}`;
  });
  return `{${members.join(",")}}`;
}

const HALF = /[\ud800-\udbff](?![\udc00-\udfff])|(?:[^\ud800-\udbff]|^)[\udc00-\udfff]/;
function wellFormed(text) { return !HALF.test(text); }

function isObject(value) { return value !== null && typeof value === "object" && !Array.isArray(value); }

function isMoment(text) {
  const found = /^([0-9]{4}-[0-9]{2}-[0-9]{2})T([0-9]{2}):([0-9]{2}):([0-9]{2})\.[0-9]{6}Z$/.exec(text);
  return Boolean(found) && isDay(found[1]) && found[2] < "24" && found[3] < "60" && found[4] < "60";
}

function entryIn(text) {
  const found = canonical(text);
  const forms = {
    body: isObject(found.body),
    kind: /^[a-z][a-z0-9_]*(\.[a-z][a-z0-9_]*)*$/.test(found.kind),
    occurred_on: isDay(found.occurred_on),
    prev: /^[0-9a-f]{64}$/.test(found.prev),
    recorded_at: isMoment(found.recorded_at),
    recorded_by: typeof found.recorded_by === "string" && found.recorded_by !== "",
    seq: Number.isSafeInteger(found.seq) && found.seq >= 0,
  };
  if (!isObject(found) || Object.keys(found).join() !== ENTRY.join()) throw new Refused("the line is no entry");
  const wrong = ENTRY.find((name) => !forms[name]);
  if (wrong) throw new Refused(`${wrong} of the entry has not its form`);
  return found;
}

// --- Digests -------------------------------------------------------------------------

async function sha256(bytes) { return new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)); }

function hex(bytes) {
  let text = "";
  for (const byte of bytes) text += byte.toString(16).padStart(2, "0");
  return text;
}

function unhex(text) { return Uint8Array.from(text.match(/../g) ?? [], (pair) => parseInt(pair, 16)); }

function base64(bytes) { return btoa(String.fromCharCode(...bytes)); }

// One text for each value: left-over bits must be zero.
function unbase64(text) {
  let raw;
  try { raw = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)); }
  catch (error) { throw new Refused(`${short(text)} is not base64`); }
  if (base64(raw) !== text) throw new Refused(`${short(text)} is not base64 as it is written here`);
  return raw;
}

// The digest of an entry: SHA-256 over a byte 0x00 and its line (RFC 9162, 2.1.1).
async function leafOf(line) {
  const bytes = new Uint8Array(line.length + 1);
  bytes.set(line, 1);
  return sha256(bytes);
}

// --- The tree (RFC 9162, 2.1) --------------------------------------------------------
// levels[0] are the leaves; each further level holds the nodes over complete pairs.

class Tree {
  constructor() { this.levels = [[]]; }
  get size() { return this.levels[0].length; }
  static async over(leaves, pace) {
    const tree = new Tree();
    tree.levels = [leaves];
    for (let level = leaves; level.length > 1; level = tree.levels.at(-1)) {
      const above = [];
      for (let from = 0; from + 1 < level.length; from += 2048) {
        const pairs = [];
        for (let at = from; at + 1 < Math.min(level.length, from + 2048); at += 2)
          pairs.push(nodeOf(level[at], level[at + 1]));
        above.push(...(await Promise.all(pairs)));
        await pace.rest("Building the tree", tree.levels.length, Math.ceil(Math.log2(leaves.length)) + 1);
      }
      tree.levels.push(above);
    }
    return tree;
  }
  // Root over the first so many leaves.
  async root(size = this.size) {
    if (!size) return sha256(new Uint8Array());
    const peaks = [];
    for (let from = 0, level = 31; level >= 0; level--) {
      if (size & (2 ** level)) {
        peaks.push(this.levels[level][from / 2 ** level]);
        from += 2 ** level;
      }
    }
    let root = peaks.pop();
    while (peaks.length) root = await nodeOf(peaks.pop(), root);
    return root;
  }
}

async function nodeOf(left, right) {
  const bytes = new Uint8Array(65);
  bytes[0] = 1;
  bytes.set(left, 1);
  bytes.set(right, 33);
  return sha256(bytes);
}

// --- Sealed values (RFC 9901) --------------------------------------------------------
// A sealed member leaves its object; the digest of its disclosure stands in "_sd".

async function sealedDigest(text) {
  if (!/^[A-Za-z0-9_-]+$/.test(text)) throw new Refused("a disclosure is not base64url");
  const digest = await sha256(new TextEncoder().encode(text));
  return base64(digest).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

async function openSealed(body, texts) {
  const given = new Map();
  for (const text of texts) {
    const digest = await sealedDigest(text);
    if (given.has(digest)) throw new Refused("a disclosure was given twice");
    given.set(digest, disclosureIn(text));
  }
  const seen = new Set();
  const opened = opening(body, given, seen, 1);
  for (const [digest, [name]] of given)
    if (!seen.has(digest)) throw new Refused(`the disclosure of ${short(name)} belongs to no digest here`);
  return { body: opened, hidden: seen.size - given.size };
}

// Opens what belongs to an entry; a disclosure that does not is told, and left out.
async function openAsFarAsGoes(body, texts, tell) {
  for (let given = [...texts]; given.length;) {
    try { return await openSealed(body, given); } catch (error) { tell(error.message); }
    let wrong = 0;
    for (let place = given.length - 1; place >= 0; place--) {
      const others = given.filter((_, at) => at !== place);
      if (await openSealed(body, others).then(() => true, () => false)) wrong = place;
    }
    given = given.filter((_, at) => at !== wrong);
  }
  return openSealed(body, []).catch(() => ({ body, hidden: 0 }));
}

function disclosureIn(text) {
  let parts;
  try {
    const raw = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
    parts = JSON.parse(TEXT.decode(Uint8Array.from(raw, (letter) => letter.charCodeAt(0))));
  } catch (error) { throw new Refused("a disclosure cannot be read"); }
  const [, name, value] = Array.isArray(parts) ? parts : [];
  if (parts?.length !== 3 || typeof parts[0] !== "string" || typeof name !== "string")
    throw new Refused("a disclosure is no array of salt, name and value");
  if (["_sd", "_sd_alg", "..."].includes(name)) throw new Refused(`a disclosure names ${name}`);
  written(value, 1);
  return [name, value];
}

function opening(value, given, seen, depth) {
  if (value === null || typeof value !== "object") return value;
  if (depth > MAX_DEPTH) throw new Refused("sealed values are nested too deep");
  if (Array.isArray(value)) return value.map((part) => opening(part, given, seen, depth + 1));
  const found = {};
  for (const [name, part] of Object.entries(value)) {
    if (name === "_sd") continue;
    if (name === "_sd_alg" || name === "...") throw new Refused(`a member is named ${name}`);
    put(found, name, opening(part, given, seen, depth + 1));
  }
  const digests = value._sd ?? [];
  if (!Array.isArray(digests)) throw new Refused("_sd is no array");
  for (const digest of digests) {
    if (!/^[A-Za-z0-9_-]{43}$/.test(digest)) throw new Refused("_sd holds something that is no digest");
    if (seen.has(digest)) throw new Refused("_sd repeats a digest");
    seen.add(digest);
    const disclosed = given.get(digest);
    if (!disclosed) continue;
    if (Object.hasOwn(found, disclosed[0])) throw new Refused("a disclosure names a member that is there");
    put(found, disclosed[0], opening(disclosed[1], given, seen, depth + 1));
  }
  return found;
}

// A member may be named as things that every object has; it is data all the same.
function put(object, name, value) {
  Object.defineProperty(object, name, { value, enumerable: true, configurable: true, writable: true });
}

// --- Reading all of it ---------------------------------------------------------------

async function readDisclosures(source, bad) {
  const found = new Map();
  let before = [-1, ""];
  let number = 0;
  for await (const [line, ended] of source.lines(SHOWN)) {
    number += 1;
    try {
      const given = canonical(TEXT.decode(line));
      if (!isObject(given) || Object.keys(given).join() !== "seq,text" || typeof given.text !== "string"
        || !Number.isSafeInteger(given.seq) || given.seq < 0) throw new Refused("a disclosure is seq and text");
      if (!ended) throw new Refused("the line was cut");
      const order = [given.seq, await sealedDigest(given.text)];
      if (inOrder(order, before) <= 0) bad.push(`line ${number}: it is out of order or stands twice`);
      // One that stands after those of a later entry opens nothing: its entry is read by then.
      if (given.seq < before[0]) continue;
      before = order;
      if (!found.has(given.seq)) found.set(given.seq, []);
      found.get(given.seq).push(given.text);
    } catch (error) { bad.push(`line ${number}: ${error.message}`); }
  }
  return { bySeq: found, count: number };
}

async function readRecord(source, scope, bad, pace) {
  const disclosures = await readDisclosures(source, bad["sealed values"]);
  const chain = bad["chain of entries"];
  const record = { entries: [], lines: [], leaves: [], hidden: 0, withheld: 0, shown: disclosures.count };
  const size = source.files.get(ENTRIES)?.size ?? 0;
  let [read, prev, waiting, cut] = [0, "0".repeat(64), [], false];
  const settle = async () => {
    const leaves = await Promise.all(waiting.map(({ line, leaf }) => leaf ?? leafOf(line)));
    for (const [place, one] of waiting.entries()) {
      const seq = record.leaves.length;
      record.leaves.push(leaves[place]);
      if (!one.leaf) await takeEntry(record, one.line, seq, prev, disclosures.bySeq, bad);
      else passOver(record, seq, scope, chain);
      prev = hex(leaves[place]);
    }
    waiting = [];
    await pace.rest("Reading entries", read, size);
  };
  for await (const [line, ended] of source.lines(ENTRIES)) {
    const withheld = line.length === 64 && /^[0-9a-f]{64}$/.test(String.fromCharCode(...line));
    waiting.push(withheld ? { leaf: unhex(TEXT.decode(line)) } : { line: line.slice() });
    read += line.length + 1;
    cut = !ended;
    if (waiting.length === 500) await settle();
  }
  await settle();
  if (!record.leaves.length) chain.push("there is not one entry in the pack");
  if (cut) chain.push("the last line does not end; the file was cut");
  for (const seq of disclosures.bySeq.keys()) bad["sealed values"].push(`no entry ${seq} is there to open`);
  record.tree = await Tree.over(record.leaves, pace);
  record.root = hex(await record.tree.root());
  return record;
}

async function takeEntry(record, line, seq, prev, disclosures, bad) {
  const chain = bad["chain of entries"];
  const texts = disclosures.get(seq) ?? [];
  disclosures.delete(seq);
  let entry;
  try { entry = entryIn(TEXT.decode(line)); }
  catch (error) {
    chain.push(`entry ${seq}: ${error instanceof Refused ? error.message : "the line is not text"}`);
    if (texts.length) bad["sealed values"].push(`entry ${seq}, which disclosures open, cannot be read`);
    return;
  }
  if (entry.seq !== seq) chain.push(`entry ${seq}: its number is ${entry.seq}; one was removed, added or moved`);
  if (entry.prev !== prev) chain.push(`entry ${seq}: it does not name the digest of the line before it`);
  if ((entry.kind === "ledger.opened") !== (seq === 0))
    chain.push(`entry ${seq}: its kind is ${short(entry.kind)}; the first and only the first opens the ledger`);
  const opened = await openAsFarAsGoes(entry.body, texts, (told) => bad["sealed values"].push(`entry ${seq}: ${told}`));
  record.hidden += opened.hidden;
  record.entries.push({
    seq: entry.seq, place: seq, kind: entry.kind, on: entry.occurred_on, at: entry.recorded_at,
    by: entry.recorded_by, prev: entry.prev, body: opened.body, asRecorded: entry.body,
  });
}

function passOver(record, seq, scope, chain) {
  record.withheld += 1;
  if (!scope?.portion) chain.push(`entry ${seq}: only its digest is there, though the pack shows the whole ledger`);
  else if (seq === 0) chain.push("entry 0: it is not shown, though every pack shows it");
}
