// The bag around a pack (RFC 8493), its scope, and its tree head.

const [INFO, MANIFEST, TAGS] = ["bag-info.txt", "manifest-sha256.txt", "tagmanifest-sha256.txt"];
const [HEAD, SCOPE] = ["data/tree-head.json", "data/figures/scope.json"];
const BESIDE = ["README.txt", INFO, "bagit.txt", "by-hand.txt", "look.html", MANIFEST, "verify.py"];
const FIGURES = ["balances", "stock", "dues", "sampled-sales"];
const NEEDED = [ENTRIES, SHOWN, HEAD, SCOPE, ...FIGURES.map((name) => `data/figures/${name}.csv`)];
const OTHER = new RegExp(
  "^data/(reports/[a-z0-9][a-z0-9_-]{0,79}(\\.[a-z0-9]{1,9})?|documents/[0-9a-f]{64}"
  + "|checkpoints/[1-9][0-9]{0,15}\\.note|timestamps/[1-9][0-9]{0,15}\\.tsr"
  + "|consistency/[1-9][0-9]{0,15}-[1-9][0-9]{0,15}\\.txt)$");
const BAGIT = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
const LARGEST = 2 ** 30;

async function digestsOf(source, pace) {
  const digests = new Map();
  const whole = [...source.files.values()].reduce((sum, file) => sum + file.size, 0);
  let read = 0;
  for (const name of source.names) {
    const file = source.files.get(name);
    if (file.size > LARGEST) throw new Unreadable(`${name} is larger than this page can read; use evenweight check`);
    const bytes = await file.arrayBuffer();
    digests.set(name, hex(await sha256(bytes)));
    if (source.checksums && crcOf(new Uint8Array(bytes)) !== source.checksums.get(name))
      source.around.push(`the checksum of ${name} in the zip is not that of the file`);
    read += file.size;
    await pace.rest("Reading files", read, whole);
  }
  return digests;
}

async function refuseNewer(source, digests) {
  const found = /^Pack-Format-Version: ([0-9]{1,9})$/m.exec(await source.text(INFO).catch(() => ""));
  if (!found || Number(found[1]) <= VERSION) return;
  if ((await source.text(TAGS).catch(() => "")).includes(digests.get(INFO)))
    throw new Unreadable(`the pack is in format ${Number(found[1])}, and this page reads formats up to `
      + `${VERSION}; get the page of the program's present version`);
}

async function checkBag(source, digests, info, bad) {
  const names = [...digests.keys()];
  const payload = names.filter((name) => name.startsWith("data/"));
  for (const [list, listing] of [[MANIFEST, payload], [TAGS, BESIDE.filter((name) => digests.has(name))]]) {
    const listed = await source.text(list).catch(() => "");
    const lines = listing.map((name) => `${digests.get(name)}  ${name}\n`);
    if (listed !== lines.join("")) bad.push(`${list} is not the list of the files as they are`);
    const said = new Set(listed.split("\n"));
    for (const [place, name] of listing.entries())
      if (!said.has(lines[place].slice(0, -1))) bad.push(`${name}: its digest is not the one in ${list}`);
  }
  for (const name of [TAGS, ...BESIDE, ...NEEDED])
    if (!digests.has(name)) bad.push(`${name} is missing; every pack has it`);
  for (const name of names)
    if (name !== TAGS && !BESIDE.includes(name) && !NEEDED.includes(name) && !OTHER.test(name))
      bad.push(`${short(name)} has no place in a pack`);
  for (const [name, text] of [["bagit.txt", BAGIT], [INFO, info]])
    if (text !== null && digests.has(name) && (await source.text(name).catch(() => "")) !== text)
      bad.push(`${name} is not what follows from the pack`);
}

// What bag-info.txt must say, as far as the pack tells.
function infoOf(source, scope, maker) {
  if (!scope || typeof maker !== "string") return null;
  const payload = source.names.filter((name) => name.startsWith("data/"));
  const octets = payload.reduce((sum, name) => sum + source.files.get(name).size, 0);
  return `Source-Organization: ${maker}\n`
    + `External-Description: Audit pack of a certified-supply ledger, trade dates up to ${scope.as_of}\n`
    + `Bagging-Date: ${scope.made_at.slice(0, 10)}\nPayload-Oxum: ${octets}.${payload.length}\n`
    + `Pack-Format-Version: ${VERSION}\n`;
}

async function readScope(source, bad) {
  const scope = await readSmall(source, SCOPE, bad);
  if (!scope) return null;
  const portion = scope.portion;
  const names = isObject(portion) ? Object.keys(portion) : [];
  const partHolds = portion === undefined || (names.length > 0
    && names.every((name) => ["scheme", "from", "until", "sale"].includes(name) && typeof portion[name] === "string")
    && (portion.from === undefined || isDay(portion.from)) && (portion.until === undefined || isDay(portion.until))
    && !("sale" in portion && names.length > 1));
  if (isDay(scope.as_of) && isMoment(scope.made_at) && typeof scope.made_by === "string"
    && Number.isSafeInteger(scope.entries) && partHolds
    && (scope.profile === undefined || typeof scope.profile === "string")
    && hasMembers(scope, ["as_of", "entries", "made_at", "made_by"], ["portion", "profile"])) return scope;
  bad.push(`${SCOPE} does not hold what it should`);
  return null;
}

async function readHead(source, bad) {
  const head = await readSmall(source, HEAD, bad);
  if (!head) return null;
  if (/^[0-9a-f]{64}$/.test(head.root) && Number.isSafeInteger(head.size) && hasMembers(head, ["root", "size"], []))
    return head;
  bad.push(`${HEAD} does not hold what it should`);
  return null;
}

function hasMembers(value, needed, allowed) {
  const names = Object.keys(value);
  return needed.every((name) => names.includes(name))
    && names.every((name) => needed.includes(name) || allowed.includes(name));
}

async function readSmall(source, name, bad) {
  try {
    const text = await source.text(name);
    if (!text.endsWith("\n")) throw new Refused(source.has(name) ? "it was cut" : "it is missing");
    const found = canonical(text.slice(0, -1));
    if (!isObject(found)) throw new Refused("it holds no object");
    return found;
  } catch (error) {
    bad.push(`${name}: ${error.message}`);
    return null;
  }
}
