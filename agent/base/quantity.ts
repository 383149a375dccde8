/** A number with its unit as people write it in a site file: `1500 ton`, `3 K`, `44 degF`, `5 %`, `0.95`. */
import { z } from 'zod';
import { type Dimension, isUnit, toSi, UNITS, type UnitName, unitOf } from './units.ts';

export interface Quantity {
  readonly value: number;
  readonly unit: UnitName;
}

const FORM = /^\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(\S.*?)?\s*$/;

/** Splits number and unit and checks the dimension; a string result is what is wrong with it. */
export function readQuantity(given: string | number, dimension: Dimension): Quantity | string {
  const parts = FORM.exec(String(given));
  if (parts === null) return `'${given}' is not a number with a unit`;
  const unit = parts[2] ?? (dimension === 'fraction' || dimension === 'ratio' ? '1' : '');
  if (unit === '') return `'${given}' needs a unit: ${unitsFor(dimension).join(', ')}`;
  if (!isUnit(unit)) return `unknown unit '${unit}': use ${unitsFor(dimension).join(', ')}`;
  if (unitOf(unit).dimension !== dimension)
    return `'${unit}' does not measure ${dimension.replaceAll('_', ' ')}: use ${unitsFor(dimension).join(', ')}`;
  return { value: Number(parts[1]), unit };
}

export function unitsFor(dimension: Dimension): UnitName[] {
  return (Object.keys(UNITS) as UnitName[]).filter((name) => unitOf(name).dimension === dimension);
}

/** Schema of a quantity that is not a gauge pressure; gives its SI value. */
export function quantity(dimension: Dimension, example: string) {
  return z
    .union([z.string(), z.number()])
    .transform((given, context) => {
      const read = readQuantity(given, dimension);
      if (typeof read === 'string') {
        context.addIssue({ code: 'custom', message: read });
        return z.NEVER;
      }
      if (unitOf(read.unit).gauge === true) {
        context.addIssue({ code: 'custom', message: `give an absolute pressure here, not ${read.unit}` });
        return z.NEVER;
      }
      return toSi(read.value, read.unit);
    })
    .meta({ description: `${dimension.replaceAll('_', ' ')} with its unit, such as ${example}` });
}
