// What everything else here rests on: refusals, and pauses that keep the page alive.

"use strict";

const VERSION = 1;

// Something cannot be as it is said; the message says why.
class Refused extends Error {}

// The pack cannot be read at all.
class Unreadable extends Error {}

// A figure that this page cannot work out; standing is how the table calls that.
class Missing extends Error {
  constructor(standing, reason) { super(reason); this.standing = standing; }
}

function short(value) {
  const text = String(value);
  return text.length > 80 ? `${text.slice(0, 80)}…` : text;
}

function sorted(values) {
  return [...values].sort((a, b) => (a < b ? -1 : a > b ? 1 : 0));
}

// Compares arrays of text and numbers, member by member.
function inOrder(one, other) {
  for (let place = 0; place < Math.min(one.length, other.length); place++) {
    if (one[place] < other[place]) return -1;
    if (one[place] > other[place]) return 1;
  }
  return one.length - other.length;
}

function grouped(values, keyOf) {
  const found = new Map();
  for (const value of values) {
    const key = keyOf(value);
    if (!found.has(key)) found.set(key, []);
    found.get(key).push(value);
  }
  return found;
}

// Long work stops every now and then, so that the page can draw and be used.
class Pace {
  constructor(tell = () => {}) { this.tell = tell; this.since = performance.now(); }
  async rest(what, done, of) {
    if (performance.now() - this.since < 40) return;
    this.tell(what, done, of);
    await new Promise((go) => setTimeout(go, 0));
    this.since = performance.now();
  }
}

// --- Days, as text such as 2026-03-02 ------------------------------------------------

function isDay(text) {
  if (!/^[0-9]{4}-[0-9]{2}-[0-9]{2}$/.test(text)) return false;
  const day = new Date(`${text}T00:00:00Z`);
  return !Number.isNaN(day.getTime()) && day.toISOString().slice(0, 10) === text && text >= "0001";
}

function dayAfter(text, days = 1) {
  if (!isDay(text)) throw new Refused(`${short(text)} is not a day`);
  const day = new Date(`${text}T00:00:00Z`);
  day.setUTCDate(day.getUTCDate() + days);
  return day.toISOString().slice(0, 10);
}

function daysBetween(first, last) {
  const gone = Date.parse(`${last}T00:00:00Z`) - Date.parse(`${first}T00:00:00Z`);
  return Math.round(gone / 86400000);
}

// Months are counted from January of the year 0.
function monthOf(day) { return Number(day.slice(0, 4)) * 12 + Number(day.slice(5, 7)) - 1; }

function firstOf(month) {
  const year = String(Math.floor(month / 12)).padStart(4, "0");
  return `${year}-${String((month % 12) + 1).padStart(2, "0")}-01`;
}
