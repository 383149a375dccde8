import { fail, ok, type Result } from '../base/result.ts';
import R11 from './data/R11.json' with { type: 'json' };
import R22 from './data/R22.json' with { type: 'json' };
import R123 from './data/R123.json' with { type: 'json' };
import R134a from './data/R134a.json' with { type: 'json' };
import R1233zdE from './data/R1233zdE.json' with { type: 'json' };
import R1234yf from './data/R1234yf.json' with { type: 'json' };
import R1234zeE from './data/R1234zeE.json' with { type: 'json' };
import { PureRefrigerant } from './pure_refrigerant.ts';
import type { RefrigerantData } from './shape.ts';
import type { Refrigerant } from './types.ts';

const DATA = [R134a, R1233zdE, R123, R1234zeE, R1234yf, R22, R11] as readonly RefrigerantData[];

/** Names of the refrigerants carried, as the project writes them. */
export const REFRIGERANTS: readonly string[] = DATA.map((data) => data.name);

const byKey = new Map(DATA.map((data) => [key(data.name), data]));
const built = new Map<string, Refrigerant>();

/**
 * The refrigerant of that name: `R134a` or as the trade spells it (`R-134a`, `R-1233zd(E)`, `HFC-134a`; case, dashes,
 * spaces and parentheses do not matter). Built at its first use, the same object ever after.
 */
export function refrigerant(name: string): Result<Refrigerant> {
  const data = refrigerantData(name);
  if (!data.ok) return data;
  const known = built.get(data.value.name);
  if (known !== undefined) return ok(known);
  const made = new PureRefrigerant(data.value);
  built.set(made.name, made);
  return ok(made);
}

/** The equation's data with its source, for documents and checks. */
export function refrigerantData(name: string): Result<RefrigerantData> {
  const data = typeof name === 'string' ? byKey.get(key(name)) : undefined;
  if (data !== undefined) return ok(data);
  return fail('refrigerant_unknown', `no equation of state for '${name}'; carried are ${REFRIGERANTS.join(', ')}`);
}

/** `HFC-134a`, `R 134a` and `R134a` are one. */
function key(name: string): string {
  return name
    .toLowerCase()
    .replace(/[\s()_-]/g, '')
    .replace(/^(r|hfc|hfo|hcfc|hcfo|cfc)(?=\d)/, '');
}
