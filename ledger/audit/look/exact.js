// Exact fractions: a numerator and a denominator above zero, both whole and of any size.

function divisor(a, b) {
  while (b) [a, b] = [b, a % b];
  return a < 0n ? -a : a;
}

class Exact {
  constructor(over, under = 1n) {
    if (!under) throw new Refused("a figure is divided by nothing");
    const common = divisor(over, under) * (under < 0n ? -1n : 1n);
    this.over = over / common;
    this.under = under / common;
  }
  static of(value) {
    if (value instanceof Exact) return value;
    if (typeof value === "bigint") return new Exact(value);
    if (Number.isSafeInteger(value)) return new Exact(BigInt(value));
    const found = /^(-?)([0-9]{1,30})(?:\.([0-9]{1,30}))?$/.exec(value);
    if (!found) throw new Refused(`${short(value)} is no plain number`);
    const decimals = found[3] ?? "";
    return new Exact(BigInt(found[1] + found[2] + decimals), 10n ** BigInt(decimals.length));
  }
  plus(other) {
    other = Exact.of(other);
    return new Exact(this.over * other.under + other.over * this.under, this.under * other.under);
  }
  minus(other) { return this.plus(Exact.of(other).times(-1)); }
  times(other) {
    other = Exact.of(other);
    return new Exact(this.over * other.over, this.under * other.under);
  }
  by(other) {
    other = Exact.of(other);
    return new Exact(this.over * other.under, this.under * other.over);
  }
  below(other) { return this.minus(other).over < 0n; }
  get isZero() { return this.over === 0n; }
  // The next whole number downwards and upwards.
  floor() { return (this.over - modulo(this.over, this.under)) / this.under; }
  ceil() { return -new Exact(-this.over, this.under).floor(); }
}

function modulo(a, b) { return ((a % b) + b) % b; }

function greatest(values) {
  return values.reduce((most, one) => (most.below(one) ? one : most));
}
function least(values) {
  return values.reduce((most, one) => (one.below(most) ? one : most));
}
function total(values) {
  return values.reduce((sum, one) => sum.plus(one), new Exact(0n));
}

// A whole number of smallest units as text, such as 1234 grams as "1.234".
function decimals(units, digits) {
  const whole = BigInt(units);
  const text = (whole < 0n ? -whole : whole).toString().padStart(digits + 1, "0");
  const sign = whole < 0n ? "-" : "";
  return sign + (digits ? `${text.slice(0, -digits)}.${text.slice(-digits)}` : text);
}
