/** Numbers of a season as people read them on a terminal. */

/** As many digits as its uncertainty to two digits allows: 0.563 ± 0.019. */
export function withUncertainty(value: number | null, uncertainty: number | null): string {
  if (value === null || uncertainty === null || !(uncertainty > 0)) return plain(value);
  const decimals = Math.min(6, Math.max(0, 1 - Math.floor(Math.log10(uncertainty))));
  return `${grouped(value, decimals)} ± ${grouped(uncertainty, decimals)}`;
}

export function plain(value: number | null): string {
  if (value === null) return '-';
  const size = Math.abs(value);
  return grouped(value, Number.isInteger(value) || size >= 1000 ? 0 : size >= 10 ? 1 : 3);
}

/** An uncertainty by itself: 3200, 0.019. */
export function twoDigits(value: number): string {
  if (!(value > 0)) return '0';
  const rounded = Number(value.toPrecision(2));
  return grouped(rounded, Math.max(0, 1 - Math.floor(Math.log10(rounded))));
}

/** Minutes: the first after a start may be a part of one. */
export function count(minutes: number): string {
  return grouped(minutes, Number.isInteger(Number(minutes.toFixed(1))) ? 0 : 1);
}

export function amount(value: number | null, uncertainty: number | null): string {
  if (value === null) return '-';
  return uncertainty !== null && uncertainty > 0 ? withUncertainty(value, uncertainty) : grouped(value, 2);
}

/** Thousands apart by a narrow blank, so that no comma is taken for a point. */
export function grouped(value: number, decimals: number): string {
  const [integer = '', fraction] = value.toFixed(decimals).split('.');
  const apart = integer.replace(/\B(?=(\d{3})+$)/g, ' ');
  return fraction === undefined ? apart : `${apart}.${fraction}`;
}
