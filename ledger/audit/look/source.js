// The files of a pack: out of a zip that this page takes apart itself, or out of a folder.

const MAX_FILES = 20000;
const MAX_WHOLE = 64 * 2 ** 20;
const MAX_LINE = 4 * 2 ** 20;
const STEP = /^[A-Za-z0-9._-]{0,127}[A-Za-z0-9_-]$/;
const TEXT = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });

class Source {
  // files: Blob by name from the top of the pack; around: what is wrong around them.
  constructor(files, around = null) {
    this.files = files;
    this.around = around;
    const seen = new Map();
    for (const name of files.keys()) {
      if (!name.split("/").every((step) => STEP.test(step)))
        throw new Unreadable(`the pack holds a file named ${short(name)}, which no pack does`);
      const folded = name.toLowerCase();
      if (seen.has(folded))
        throw new Unreadable(`${seen.get(folded)} and ${name} are one file on some systems`);
      seen.set(folded, name);
    }
    if (files.size > MAX_FILES)
      throw new Unreadable(`the pack has ${files.size} files, more than the ${MAX_FILES} allowed`);
  }
  get names() { return sorted(this.files.keys()); }
  has(name) { return this.files.has(name); }
  async bytes(name) {
    const file = this.files.get(name);
    if (!file) return new Uint8Array();
    if (file.size > MAX_WHOLE) throw new Refused(`${name} is larger than ${MAX_WHOLE} bytes`);
    return new Uint8Array(await file.arrayBuffer());
  }
  async text(name) {
    try { return TEXT.decode(await this.bytes(name)); }
    catch (error) { throw new Refused(`${name} is not text in UTF-8`); }
  }
  // Lines as bytes, with whether a line feed ends them; a piece of the file at a time.
  async *lines(name) {
    const file = this.files.get(name) ?? new Blob();
    let rest = new Uint8Array();
    for (let start = 0; start < file.size; start += 2 ** 22) {
      const piece = new Uint8Array(await file.slice(start, start + 2 ** 22).arrayBuffer());
      const joined = new Uint8Array(rest.length + piece.length);
      joined.set(rest);
      joined.set(piece, rest.length);
      let from = 0;
      for (let end; (end = joined.indexOf(10, from)) >= 0; from = end + 1) {
        yield [bounded(joined.subarray(from, end), name), true];
      }
      rest = bounded(joined.slice(from), name);
    }
    if (rest.length) yield [rest, false];
  }
}

function bounded(line, name) {
  if (line.length > MAX_LINE) throw new Unreadable(`a line of ${name} is longer than ${MAX_LINE} bytes`);
  return line;
}

function folderSource(files) {
  const found = new Map();
  for (const file of files) {
    const name = (file.webkitRelativePath || file.name).split("/").slice(1).join("/");
    found.set(name, file);
  }
  return new Source(found);
}

// --- The zip (PKWARE APPNOTE 6.3.10) -------------------------------------------------
// Members are stored as they are, in order of name, dated 1980-01-01, with nothing between
// them: so what is around the files can be written again and compared byte by byte.

const AGAIN = "another program packed the zip anew, or it was cut; unpack it and choose the folder";

async function zipSource(file) {
  const around = [];
  const end = file.size;
  if (end < 22) throw new Unreadable("the file is too short for a zip");
  const tail = new DataView(await file.slice(end - 22).arrayBuffer());
  if (tail.getUint32(0) !== 0x504b0506) throw new Unreadable(AGAIN);
  const count = tail.getUint16(10, true);
  const size = tail.getUint32(12, true);
  const offset = tail.getUint32(16, true);
  if (count > MAX_FILES || size > count * 302 || offset + size > end) throw new Unreadable(AGAIN);
  const listed = new Uint8Array(await file.slice(offset, offset + size).arrayBuffer());
  const members = membersIn(listed, count);
  const central = [];
  const files = new Map();
  let start = 0;
  let top = null;
  for (const member of members) {
    const folder = member.name.split("/")[0];
    top ??= folder;
    if (folder !== top || !member.name.includes("/"))
      throw new Unreadable(`${short(member.name)} lies outside of the folder of the pack`);
    const local = localHeader(member);
    const found = new Uint8Array(await file.slice(start, start + local.length).arrayBuffer());
    if (!same(found, local)) around.push(`the header of ${short(member.name)} was changed`);
    const name = member.name.slice(top.length + 1);
    if (files.has(name)) throw new Unreadable(`${short(name)} stands twice in the zip`);
    const begin = start + local.length;
    if (begin + member.size > end) throw new Unreadable(AGAIN);
    files.set(name, file.slice(begin, begin + member.size));
    central.push(centralHeader(member, start));
    start = begin + member.size;
  }
  const list = joined(central);
  const last = new Uint8Array(22);
  const view = new DataView(last.buffer);
  view.setUint32(0, 0x504b0506);
  view.setUint16(8, count, true);
  view.setUint16(10, count, true);
  view.setUint32(12, list.length, true);
  view.setUint32(16, start, true);
  const rest = new Uint8Array(await file.slice(start, start + list.length + 22).arrayBuffer());
  if (!same(rest, joined([list, last])) || start + list.length + 22 !== end)
    around.push("the list of members at the end was changed");
  const inZipOrder = members.map((member) => member.name);
  if (inZipOrder.join("\n") !== sorted(inZipOrder).join("\n"))
    around.push("the members are not in order of their names");
  const source = new Source(files, around);
  source.checksums = new Map(members.map((m) => [m.name.slice(top.length + 1), m.crc]));
  return source;
}

function membersIn(listed, count) {
  const view = new DataView(listed.buffer);
  const members = [];
  let at = 0;
  for (let place = 0; place < count; place++) {
    if (at + 46 > listed.length || view.getUint32(at) !== 0x504b0102) throw new Unreadable(AGAIN);
    const [flags, method] = [view.getUint16(at + 8, true), view.getUint16(at + 10, true)];
    const [packed, size] = [view.getUint32(at + 20, true), view.getUint32(at + 24, true)];
    const length = view.getUint16(at + 28, true);
    const more = view.getUint16(at + 30, true) + view.getUint16(at + 32, true);
    const kind = view.getUint32(at + 38, true) >>> 28;
    const raw = listed.subarray(at + 46, at + 46 + length);
    const name = String.fromCharCode(...raw);
    if (flags & 1 || method || packed !== size || (kind !== 0 && kind !== 8))
      throw new Unreadable(`${short(name)} in the zip is packed, secret or a link`);
    members.push({ name, raw, size, crc: view.getUint32(at + 16, true) });
    at += 46 + length + more;
  }
  return members;
}

// What both headers of a member have in common, from the version that is needed on.
function shared(view, at, member) {
  view.setUint16(at, 20, true);
  view.setUint16(at + 8, 33, true);
  view.setUint32(at + 10, member.crc, true);
  view.setUint32(at + 14, member.size, true);
  view.setUint32(at + 18, member.size, true);
  view.setUint16(at + 22, member.raw.length, true);
}

function localHeader(member) {
  const header = new Uint8Array(30 + member.raw.length);
  const view = new DataView(header.buffer);
  view.setUint32(0, 0x504b0304);
  shared(view, 4, member);
  header.set(member.raw, 30);
  return header;
}

function centralHeader(member, start) {
  const header = new Uint8Array(46 + member.raw.length);
  const view = new DataView(header.buffer);
  view.setUint32(0, 0x504b0102);
  view.setUint16(4, 788, true);
  shared(view, 6, member);
  view.setUint32(38, 0o100644 * 2 ** 16, true);
  view.setUint32(42, start, true);
  header.set(member.raw, 46);
  return header;
}

function same(one, other) {
  return one.length === other.length && one.every((byte, place) => byte === other[place]);
}

function joined(parts) {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) { whole.set(part, at); at += part.length; }
  return whole;
}

const CRC_TABLE = Uint32Array.from({ length: 256 }, (_, byte) => {
  let value = byte;
  for (let bit = 0; bit < 8; bit++) value = value & 1 ? (value >>> 1) ^ 0xedb88320 : value >>> 1;
  return value >>> 0;
});

function crcOf(bytes) {
  let value = 0xffffffff;
  for (let at = 0; at < bytes.length; at++) value = CRC_TABLE[(value ^ bytes[at]) & 255] ^ (value >>> 8);
  return (value ^ 0xffffffff) >>> 0;
}
