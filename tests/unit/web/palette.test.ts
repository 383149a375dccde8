import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';

const css = readFileSync(new URL('../../../agent/web/page/ink.css', import.meta.url), 'utf8');

/** The custom properties of one rule. */
function palette(from: number): Record<string, string> {
  const rule = css.slice(css.indexOf('{', from), css.indexOf('}', from));
  return Object.fromEntries(
    [...rule.matchAll(/--([a-z0-9]+):\s*(#[0-9a-f]{3,6})/g)].map((m) => [m[1] as string, m[2] as string]),
  );
}

/** Relative luminance, WCAG 2.2 (sRGB). */
function luminance(hex: string): number {
  const full = hex.length === 4 ? [...hex.slice(1)].map((c) => c + c).join('') : hex.slice(1);
  const [r, g, b] = [0, 2, 4].map((i) => {
    const c = Number.parseInt(full.slice(i, i + 2), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

/** Contrast ratio, WCAG 2.2. */
function contrast(a: string, b: string): number {
  const [x, y] = [luminance(a), luminance(b)];
  return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
}

/** Chroma in OKLCH (B. Ottosson, 2020: matrices from memory, checked below on sRGB red). */
function chroma(hex: string): number {
  const [r, g, b] = [1, 3, 5].map((i) => {
    const c = Number.parseInt(hex.slice(i, i + 2), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  const l = Math.cbrt(0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b);
  const m = Math.cbrt(0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b);
  const s = Math.cbrt(0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b);
  return Math.hypot(
    1.9779984951 * l - 2.428592205 * m + 0.4505937099 * s,
    0.0259040371 * l + 0.7827717662 * m - 0.808675766 * s,
  );
}

const LOOKS = {
  light: palette(css.indexOf(':root {')),
  dark: palette(css.indexOf(':root[data-look="dark"]')),
};

describe.each(Object.entries(LOOKS))('palette, %s', (_name, ink) => {
  it('is complete', () => {
    expect(Object.keys(ink)).toHaveLength(18);
  });
  it('text is at least 5.3:1 on every ground it stands on', () => {
    for (const text of ['ink', 'ink2', 'p1', 'p2', 'p3'])
      for (const ground of ['ground', 'plate', 'twophase']) {
        if (text.startsWith('p') && ground === 'twophase') continue;
        expect(contrast(ink[text]!, ink[ground]!), `${text} on ${ground}`).toBeGreaterThanOrEqual(5.3);
      }
    expect(contrast(ink['onp']!, ink['p1']!)).toBeGreaterThanOrEqual(5.3);
    expect(contrast(ink['ground']!, ink['ink']!)).toBeGreaterThanOrEqual(5.3);
  });
  it('lines that carry meaning are at least 3.6:1', () => {
    for (const line of ['mid', 'heatout', 'heatin', 'throttle', 'ghost'])
      for (const ground of ['plate', 'twophase'])
        expect(contrast(ink[line]!, ink[ground]!), `${line} on ${ground}`).toBeGreaterThanOrEqual(3.6);
  });
  it('saturation itself means abnormal: legs are dull, priority 1 is not', () => {
    for (const leg of ['heatout', 'heatin', 'throttle', 'ghost']) expect(chroma(ink[leg]!), leg).toBeLessThan(0.09);
    expect(chroma(ink['p1']!)).toBeGreaterThan(0.16);
  });
});

describe('the measures themselves', () => {
  it('contrast of black and white is 21; chroma of sRGB red is 0.2577', () => {
    expect(contrast('#000', '#fff')).toBeCloseTo(21, 6);
    expect(chroma('#ff0000')).toBeCloseTo(0.2577, 3);
    expect(chroma('#808080')).toBeLessThan(1e-4);
  });
  it('the system dark look is the chosen dark look', () => {
    expect(palette(css.indexOf(':root:not([data-look="light"])'))).toEqual(LOOKS.dark);
  });
});
