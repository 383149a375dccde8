/**
 * The fixed part of a pressure-enthalpy diagram: dome and isotherms over a pressure window. SI, enthalpy in the
 * equation's reference state.
 */
import type { Refrigerant } from '../refrigerant/types.ts';

export interface Diagram {
  readonly refrigerant: string;
  readonly reference: string;
  readonly critical: { readonly T: number; readonly p: number; readonly h: number };
  /** Rows of [h, p, T] from the window's lower end (or below) up to the dome's top. */
  readonly liquid: readonly (readonly [number, number, number])[];
  readonly vapour: readonly (readonly [number, number, number])[];
  readonly isotherms: readonly { readonly T: number; readonly line: readonly (readonly [number, number])[] }[];
}

const DOME_ROWS = 64;
/** Round in degrees Celsius, and round in degrees Fahrenheit: [zero of the scale in K, step in K]. */
const ISOTHERM_SCALES = [
  [273.15, 10],
  [273.15 - 32 / 1.8, 20 / 1.8],
] as const;
const ISOTHERM_ROWS = 16;
/** The diagram shows a little more than the window on either side. */
const MARGIN = 1.6;

/** `window`: Pa absolute, lower and upper end. */
export function diagram(refrigerant: Refrigerant, window: readonly [number, number]): Diagram {
  const { saturation } = refrigerant.range;
  const low = Math.max(window[0] / MARGIN, saturation.p_min);
  const liquid: [number, number, number][] = [];
  const vapour: [number, number, number][] = [];
  for (let i = 0; i <= DOME_ROWS; i += 1) {
    const p = low * (saturation.p_max / low) ** (i / DOME_ROWS);
    const bubble = refrigerant.PQ(p, 0);
    const dew = refrigerant.PQ(p, 1);
    if (!bubble.ok || !dew.ok) continue;
    liquid.push([bubble.value.h, p, bubble.value.T]);
    vapour.push([dew.value.h, p, dew.value.T]);
  }
  const { T, p, rho: _rho } = refrigerant.critical;
  const top = ((liquid.at(-1)?.[0] ?? 0) + (vapour.at(-1)?.[0] ?? 0)) / 2;
  return {
    refrigerant: refrigerant.label,
    reference: 'saturated liquid at 0 °C: 200 kJ/kg (IIR)',
    critical: { T, p, h: top },
    liquid,
    vapour,
    isotherms: isotherms(refrigerant, [low, Math.min(window[1] * MARGIN, saturation.p_max)]),
  };
}

/**
 * Isotherms at multiples of 10 °C and of 20 °F, for readers of either, through liquid and vapour; inside the dome they
 * run along the pressure and are left out.
 */
function isotherms(refrigerant: Refrigerant, [low, high]: readonly [number, number]): Diagram['isotherms'] {
  const coldest = refrigerant.dewTemperature(low);
  const hottest = refrigerant.dewTemperature(high);
  if (!coldest.ok || !hottest.ok) return [];
  const lines: { T: number; line: [number, number][] }[] = [];
  for (const T of roundTemperatures(coldest.value, hottest.value + 60)) {
    const line: [number, number][] = [];
    const boundary = refrigerant.dewPressure(T);
    const knots = boundary.ok && boundary.value > low && boundary.value < high ? [boundary.value] : [];
    for (let i = 0; i <= ISOTHERM_ROWS; i += 1) knots.push(low * (high / low) ** (i / ISOTHERM_ROWS));
    for (const p of knots.sort((a, b) => b - a)) {
      if (boundary.ok && p === boundary.value) {
        const bubble = refrigerant.TQ(T, 0);
        const dew = refrigerant.TQ(T, 1);
        if (bubble.ok && dew.ok) line.push([bubble.value.h, p], [dew.value.h, p]);
        continue;
      }
      const state = refrigerant.TP(T, p);
      if (state.ok) line.push([state.value.h, p]);
    }
    if (line.length > 1) lines.push({ T, line });
  }
  return lines;
}

/** Round temperatures of either scale in order, K; one that is round in both stands once. */
function roundTemperatures(low: number, high: number): number[] {
  const all = ISOTHERM_SCALES.flatMap(([zero, step]) => {
    const first = Math.ceil((low - zero) / step);
    const count = Math.max(0, Math.floor((high - zero) / step) - first + 1);
    return Array.from({ length: count }, (_, i) => zero + (first + i) * step);
  });
  return all.sort((a, b) => a - b).filter((T, i) => i === 0 || T - (all[i - 1] as number) > 1e-6);
}
