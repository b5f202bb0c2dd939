// Checkpoints: tree heads as signed texts (C2SP signed-note, tlog-checkpoint), Ed25519.

const DASH = "\u2014 ";
// Points of small order, by their bytes without the sign: a signature under one holds for many texts.
const WEAK = /^(0[01](00){31}|26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05|c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a|e[cde](ff){30}7f)$/;

function keyIn(line) {
  const [name, stated, ...rest] = line.trim().split("+");
  const raw = unbase64(rest.join("+"));
  if (raw.length !== 33 || raw[0] !== 1 || !name || /\s/.test(name))
    throw new Refused("a key is one line, NAME+HASH+BASE64, of an Ed25519 key");
  const unsigned = raw.slice(1);
  unsigned[31] &= 0x7f;
  if (WEAK.test(hex(unsigned))) throw new Refused(`the key of ${short(name)} is a weak one`);
  return { line: line.trim(), name, stated, raw };
}

async function keyHash(key) {
  const named = joined([new TextEncoder().encode(`${key.name}\n`), key.raw]);
  return hex((await sha256(named)).slice(0, 4));
}

// Whether this browser can check Ed25519 at all.
async function canVerify() {
  try {
    await crypto.subtle.importKey("raw", new Uint8Array(32), { name: "Ed25519" }, false, ["verify"]);
    return true;
  } catch (error) { return error.name !== "NotSupportedError"; }
}

// Whether a key signed a note; a signature under the key that fails is refused.
async function signedBy(note, line) {
  const key = keyIn(line);
  const hash = await keyHash(key);
  if (hash !== key.stated) throw new Refused(`the key of ${short(key.name)} states another hash than its own`);
  const gap = note.lastIndexOf("\n\n");
  if (gap < 0 || !note.endsWith("\n")) throw new Refused("the text is no signed note");
  const message = new TextEncoder().encode(note.slice(0, gap + 1));
  const public_ = await crypto.subtle.importKey("raw", key.raw.slice(1), { name: "Ed25519" }, false, ["verify"]);
  let found = false;
  for (const signature of note.slice(gap + 2).split("\n")) {
    if (!signature.startsWith(`${DASH}${key.name} `)) continue;
    const raw = unbase64(signature.slice(DASH.length + key.name.length + 1));
    if (hex(raw.slice(0, 4)) !== hash) continue;
    if (raw.length !== 68 || !(await crypto.subtle.verify({ name: "Ed25519" }, public_, raw.slice(4), message)))
      throw new Refused(`the signature of ${short(key.name)} does not hold`);
    found = true;
  }
  return found;
}

function checkpointIn(note) {
  const [origin, size, root] = note.split("\n");
  if (!/^(0|[1-9][0-9]{0,15})$/.test(size ?? "")) throw new Refused("the text is no checkpoint");
  return { origin, size: Number(size), root: hex(unbase64(root ?? "")) };
}

async function checkSigned(source, record, given, bad, notes) {
  const files = new Map();
  for (const name of source.names) {
    const found = /^data\/checkpoints\/([0-9]+)\.note$/.exec(name);
    if (found) files.set(Number(found[1]), name);
  }
  const able = await canVerify();
  const part = "signed checkpoints";
  const keys = await keysOf(record, able, notes);
  for (const entry of record.entries) {
    if (entry.kind !== "checkpoint.signed") continue;
    if (!files.has(entry.body.size)) bad[part].push(`entry ${entry.seq} records a checkpoint that is not there`);
  }
  let last = null;
  for (const [size, name] of [...files].sort((a, b) => a[0] - b[0])) {
    try {
      const note = await source.text(name);
      const stated = checkpointIn(note);
      if (stated.size !== size || size > record.leaves.length
        || stated.root !== hex(await record.tree.root(size)))
        throw new Refused(`it is not that of the first ${size} entries`);
      const key = keys.filter((one) => one.since <= size).at(-1);
      if (!key?.line) throw new Refused("the record names no key that could have signed it");
      if (stated.origin !== keyIn(key.line).name) throw new Refused("it is signed under another name");
      if (able && !(await signedBy(note, key.line))) throw new Refused("the key in force did not sign it");
      last = { size, key };
    } catch (error) { bad[part].push(`${name}: ${error.message}`); }
  }
  if (files.size && !able) notes.push("Signatures: this browser has no Ed25519, so none was checked.");
  if (given.key) checkPinned(given.key, keys, last, able, bad, notes);
  if (given.last) await checkKept(given.last, record, bad);
  return last?.size ?? 0;
}

// The keys of the ledger in order: the first that the opening names, then each that follows.
async function keysOf(record, able, notes) {
  const opened = record.entries.find((entry) => entry.kind === "ledger.opened");
  const keys = [{ line: opened?.body.public_key, since: 0, vouched: true }];
  for (const entry of record.entries) {
    if (entry.kind === "key.revoked") notes.push(`Key ${short(entry.body.key)} is revoked by entry ${entry.seq}: `
      + "what that takes away is not worked out here.");
    if (entry.kind !== "key.rotated") continue;
    let vouched = false;
    try { vouched = able && await signedBy(entry.body.note, entry.body.old_key); } catch (error) { vouched = false; }
    keys.push({ line: entry.body.new_key, since: entry.seq + 1, vouched });
  }
  return keys;
}

function checkPinned(line, keys, last, able, bad, notes) {
  const part = bad["key pinned on enrolment"];
  if (!able) { notes.push("The pinned key: not checked, since this browser has no Ed25519."); return; }
  const place = keys.findIndex((key) => key.line === line.trim());
  if (place < 0) { part.push("the record does not know the key that you gave: ask the maker in person"); return; }
  let end = place + 1;
  while (end < keys.length && keys[end].vouched) end += 1;
  if (!last) part.push("nothing in the pack is signed by the key that you gave");
  else if (keys.indexOf(last.key) >= end) part.push("no signature leads from the key that you gave to the last one");
}

async function checkKept(note, record, bad) {
  const part = bad["tree head kept from before"];
  try {
    const kept = checkpointIn(note.trimStart());
    if (kept.size > record.leaves.length) part.push(`you kept a tree head over ${kept.size} entries, and here are fewer`);
    else if (hex(await record.tree.root(kept.size)) !== kept.root)
      part.push(`the first ${kept.size} entries are not those that you kept a tree head of`);
  } catch (error) { part.push(`what you kept cannot be read: ${error.message}`); }
}
