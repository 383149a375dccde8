/**
 * Span of a pressure transmitter that the site file says nothing of: the next standard range above the greatest
 * pressure its vessel sees in service. Ranges: the series 1, 1.6, 2.5, 4, 6, 10 of EN 837-1 (from memory). Service
 * temperatures: common practice, no source.
 */
import type { Result } from '../base/result.ts';

const SERIES = [1, 1.6, 2.5, 4, 6, 10] as const;

/**
 * Saturation temperature (K) whose pressure the component's transmitter must still show: a warm standstill, a hot
 * condenser.
 */
const SERVICE_TEMPERATURE: Readonly<Record<string, number>> = {
  evaporator: 298.15,
  flash_tank: 308.15,
  condenser: 323.15,
};
/** Everything else (oil) may see what the condenser sees. */
const OTHER_SERVICE_TEMPERATURE = 323.15;

/**
 * Smallest standard range, 1, 1.6, 2.5, 4, 6 or 10 times a power of ten of its unit, that is not below `pressure`
 * (Pa, above 0).
 */
export function nextStandardSpan(pressure: number): number {
  const decade = 10 ** Math.floor(Math.log10(pressure));
  // A hair of tolerance: 1000 kPa must not become 1600 by the rounding of the logarithm.
  const step = SERIES.find((each) => each * decade >= pressure * (1 - 1e-12)) ?? 10;
  return step * decade;
}

/** Default span in Pa of the pressure point of a component (`evaporator`, ...) for a refrigerant. */
export function defaultSpan(
  component: string,
  refrigerant: { readonly saturationPressure: (T: number) => Result<number> },
): Result<number> {
  const pressure = refrigerant.saturationPressure(SERVICE_TEMPERATURE[component] ?? OTHER_SERVICE_TEMPERATURE);
  return pressure.ok ? { ok: true, value: nextStandardSpan(pressure.value) } : pressure;
}
