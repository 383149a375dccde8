/** What a forward design calculation is given, and what must hold between its keys. SI. */
import { z } from 'zod';
import { chillerParameters } from './parameters.ts';

const positive = z.number().positive().finite();
const level = z.strictObject({ p: positive.optional(), T: positive.optional() });
const compressor = z.strictObject({
  isentropic_efficiency: z.number().gt(0).lte(1).optional(),
  polytropic_efficiency: z.number().gt(0).lte(1).optional(),
  drive_efficiency: z.number().gt(0).lte(1).default(1),
});
const measured = z.strictObject({ p: positive, T: positive });

export const designRecord = z.strictObject({
  refrigerant: z.string(),
  arrangement: chillerParameters.shape.arrangement,
  economizer: z.enum(['on', 'off']).default('on'),
  evaporator: level.extend({ superheat: z.number().min(0).default(0) }).optional(),
  /** Pressures of the economizer: one tank, two for three stages, or where the subcooler's branch boils off. */
  tanks: z.array(level).max(2).default([]),
  subcooler: z
    .strictObject({ approach: z.number().min(0).default(3), superheat: z.number().min(0).default(0) })
    .optional(),
  condenser: level.extend({ subcooling: z.number().min(0).default(0) }).optional(),
  compressors: z.array(compressor).max(3).default([]),
  /** K; with it the saving is computed once more with the condenser solved anew. */
  condenser_water: z.strictObject({ entering_temperature: positive }).optional(),
  /** Measured states in place of computed ones: suction, main discharge (of several stages: 10), condensed liquid. */
  states: z
    .strictObject({
      '1': measured.optional(),
      '2': measured.optional(),
      '3': measured.optional(),
      '10': measured.optional(),
    })
    .default({}),
  capacity: positive.optional(),
  flow: positive.optional(),
  power: positive.optional(),
});

export type DesignRecord = z.output<typeof designRecord>;

/** Why the record is no circuit, in words; null where it is one. */
export function whatLacks(record: DesignRecord): string | null {
  const { arrangement, economizer, tanks, compressors, states } = record;
  const scale = ['capacity', 'flow', 'power'].filter((key) => record[key as 'capacity'] !== undefined);
  if (scale.length !== 1) return 'give one of capacity, flow, power';
  if (record.evaporator === undefined && states['1'] === undefined) return 'evaporator is missing';
  if (record.condenser === undefined && states['3'] === undefined) return 'condenser is missing';
  for (const [name, place] of [
    ['evaporator', record.evaporator],
    ['condenser', record.condenser],
    ['tanks[0]', tanks[0]],
    ['tanks[1]', tanks[1]],
  ] as const)
    if (place !== undefined && (place.p === undefined) === (place.T === undefined))
      return `${name}: give one of p and T`;
  if (arrangement === 'simple' && tanks.length > 0) return "tanks: the arrangement 'simple' has none";
  if (tanks.length > 1 && arrangement !== 'interstage') return `tanks: the arrangement '${arrangement}' has one`;
  if (record.subcooler !== undefined && arrangement !== 'subcooler')
    return `subcooler: the arrangement '${arrangement}' has none`;
  const economizing = arrangement !== 'simple' && economizer === 'on';
  if (economizing && tanks.length === 0) return 'tanks: one is needed, {p} or {T}';
  const [end, other] = staged(record) ? (['10', '2'] as const) : (['2', '10'] as const);
  if (states[other] !== undefined) return `states.${other}: the main discharge of '${arrangement}' is ${end}`;
  if (compressors.length === 0 && states[end] === undefined) return 'compressors: isentropic_efficiency is missing';
  if (economizing && arrangement === 'parallel' && compressors.length < 2)
    return 'compressors: two are needed, main and economizer';
  return whatLacksOfCompressors(record);
}

/** Vapour joins between the stages of the main compressor. */
export function staged({ arrangement }: DesignRecord): boolean {
  return arrangement === 'interstage' || arrangement === 'subcooler';
}

function whatLacksOfCompressors(record: DesignRecord): string | null {
  const { compressors, tanks } = record;
  const most = staged(record) ? 1 + Math.max(1, tanks.length) : 2;
  if (compressors.length > most) return `compressors: ${most} are the most here`;
  for (const [at, { isentropic_efficiency, polytropic_efficiency }] of compressors.entries())
    if ((isentropic_efficiency === undefined) === (polytropic_efficiency === undefined))
      return `compressors[${at}]: give one of isentropic_efficiency and polytropic_efficiency`;
  if (!staged(record)) return null;
  for (const [at, { drive_efficiency }] of compressors.entries())
    if (drive_efficiency !== 1 && drive_efficiency !== compressors[0]?.drive_efficiency)
      return `compressors[${at}].drive_efficiency: all stages have the drive of the first`;
  return null;
}
