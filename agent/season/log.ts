/** Entries of the maintenance log: what can be said, and what is to be said back. */
import { LIMITS } from '../base/limits.ts';
import { fail, ok, type Result } from '../base/result.ts';

export const WORK_KINDS = ['tubes_cleaned', 'refrigerant_added', 'sensor_replaced', 'other'] as const;
export type WorkKind = (typeof WORK_KINDS)[number];

export interface Work {
  readonly kind: WorkKind;
  readonly text: string;
  /** Refrigerant put in, kg. */
  readonly mass_kg: number | null;
}

/** kg of the units of mass that people write. The pound by the international agreement of 1959, exact. */
const MASS_UNITS: Readonly<Record<string, number>> = { kg: 1, g: 0.001, lb: 0.45359237, lbs: 0.45359237 };

/** More than any machine of the trade holds, kg: a slip of the unit or of a digit. */
const MASS_KG_MAX = 20_000;

/** What is wrong is one sentence; `mass` as people write it: `12.5 kg`, `30 lb`. */
export function readWork(given: {
  readonly kind: string;
  readonly text: string;
  readonly mass: string | undefined;
}): Result<Work> {
  const kind = WORK_KINDS.find((each) => each === given.kind);
  if (kind === undefined) return fail('usage', `--kind ${given.kind}: it is one of ${WORK_KINDS.join(', ')}`);
  const text = given.text.trim();
  if (text === '') return fail('usage', '--text is empty: say what was done, and by whom');
  if (text.length > LIMITS.maintenance_text_max)
    return fail('usage', `--text is longer than ${LIMITS.maintenance_text_max} characters`);
  if (kind !== 'refrigerant_added')
    return given.mass === undefined
      ? ok({ kind, text, mass_kg: null })
      : fail('usage', '--mass belongs to --kind refrigerant_added alone');
  if (given.mass === undefined)
    return fail('usage', '--mass is missing: the refrigerant added, as weighed, such as 12.5 kg or 30 lb');
  const mass_kg = readMass(given.mass);
  return mass_kg === null
    ? fail('usage', `--mass ${given.mass}: give a number above 0 with kg, g or lb, such as 12.5 kg`)
    : ok({ kind, text, mass_kg });
}

function readMass(text: string): number | null {
  const parts = /^\s*(\d+\.?\d*|\.\d+)\s*([A-Za-z]+)\s*$/.exec(text);
  const unit = MASS_UNITS[(parts?.[2] ?? '').toLowerCase()];
  if (parts === null || unit === undefined) return null;
  const mass = Number(parts[1]) * unit;
  return mass > 0 && mass <= MASS_KG_MAX ? mass : null;
}

/** To be read when refrigerant was added. */
export const REFRIGERANT_CAUTION = `Refrigerant was added: it is worth asking where it went.
- Work out the leak rate at every addition where the law asks for it (United States: 40 CFR 82.157 for ozone-depleting refrigerants, 40 CFR 84.106
  for HFCs and their substitutes; elsewhere local law). What size of charge and what rate count is for those rules to say, not for this log: it is
  a note of yours and no record of compliance.
- Handling refrigerant is for certified people, by local law (United States: EPA section 608), with the plate and the manual of the machine. Mind
  the rules of the machinery room (ASHRAE 15 or local code): vapour displaces air.
- An addition moves approaches and levels: what is compared across it compares two machines.`;

/** A line of warning that an entry calls for; null where it calls for none. */
export function cautionOf(kind: string): string | null {
  return kind === 'refrigerant_added' ? REFRIGERANT_CAUTION : null;
}
