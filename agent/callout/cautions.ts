/**
 * What can hurt people and machines when somebody goes to work on what a packet suggests. They defer to local codes and
 * licensed practice; the regulations are named where one applies, from memory where no paragraph is given.
 */

export type CautionId = keyof typeof CAUTIONS;

export const CAUTIONS = {
  general:
    'Tonhour reads and never writes to a controller; it is not a safety function, and this page is advice, not a finding. Local codes, the manual of the machine and licensed practice govern.',
  refrigerant:
    'Refrigerant only by certified people (United States: EPA section 608; elsewhere local law). Nothing is vented. Work out the leak rate at every addition where the law asks for it (40 CFR 82.157 for ozone-depleting refrigerants; 40 CFR 84.106 for HFCs and substitutes, from 15 lb of charge).',
  machinery_room:
    'Machinery room by ASHRAE 15 or local code: refrigerant detector and ventilation proven before entry. Vapour is heavier than air and displaces it: asphyxiation without warning. Not alone.',
  lockout:
    'Lock out, tag out and prove dead before opening a panel, a starter or a guard. Drives hold charge in their capacitors after the supply is off: wait as their plate says, and measure.',
  pressure:
    'Nameplate pressures are limits, also for a test. Relieve before opening; never trap cold liquid between two closed valves: it bursts the pipe as it warms.',
  no_air:
    'Never oxygen or air for a pressure test, with oil or refrigerant inside it explodes: dry nitrogen through a regulator and a relief valve, within the nameplate.',
  decomposition:
    'No flame, welding or glowing surface near refrigerant vapour: it decomposes into acids and toxic gas. A sharp smell means leave and ventilate.',
  flammable:
    'This refrigerant is mildly flammable (A2L of ASHRAE 34): no ignition source, a detector that is made for it, and the ventilation of its rules.',
  toxic:
    'This refrigerant is of the more toxic class (B1 of ASHRAE 34): mind the exposure limit, and breathing protection where the rules of the machinery room ask for it.',
  low_pressure:
    'This refrigerant boils below the pressure of the air: leaks draw air and water in. Its rupture disc opens at a low pressure; a pressure for leak testing stays well below it.',
  tube_freeze:
    'Tubes freeze and burst in minutes: never charge, recover or pull down below the saturation pressure of the freezing point unless water flows or the barrels are drained. Freeze and flow protection stay as they are.',
  restart:
    'Mind the limits on restarts of motor and drive, and the time the oil needs to warm and boil out. Do not reset a trip before its cause is known.',
  water_reset:
    'A change of a water temperature respects the least lift, oil return, motor cooling, the humidity of the rooms, and Legionella in open loops (ASHRAE 188).',
  rotating: 'Keep clear of couplings, fans and belts: a machine that stands may start by itself at any time.',
} as const;

interface Traits {
  /** Group of ASHRAE 34; from memory. */
  readonly group: 'A1' | 'A2L' | 'B1';
  /** Boils below the pressure of the air at the temperatures of a chiller. */
  readonly low_pressure: boolean;
}

const REFRIGERANTS: Readonly<Record<string, Traits>> = {
  R134a: { group: 'A1', low_pressure: false },
  R22: { group: 'A1', low_pressure: false },
  R11: { group: 'A1', low_pressure: true },
  R123: { group: 'B1', low_pressure: true },
  R1233zdE: { group: 'A1', low_pressure: true },
  R1234zeE: { group: 'A2L', low_pressure: false },
  R1234yf: { group: 'A2L', low_pressure: false },
  R1336mzzZ: { group: 'A1', low_pressure: true },
  R513A: { group: 'A1', low_pressure: false },
  R450A: { group: 'A1', low_pressure: false },
  R514A: { group: 'B1', low_pressure: true },
};

export interface Caution {
  readonly id: CautionId;
  readonly text: string;
}

/**
 * Cautions of a packet in the order in which they stand here: those of its causes, those of the refrigerant, and what
 * holds for everybody who enters. A refrigerant that is not known gets the cautions of every group.
 */
export function cautionsOf(asked: ReadonlySet<CautionId>, refrigerant: string): Caution[] {
  const traits = REFRIGERANTS[refrigerant];
  const all = new Set<CautionId>([...asked, 'general', 'machinery_room', 'lockout', 'rotating']);
  if (asked.has('refrigerant')) for (const id of ['pressure', 'no_air', 'decomposition'] as const) all.add(id);
  if (traits === undefined || traits.group === 'A2L') all.add('flammable');
  if (traits === undefined || traits.group === 'B1') all.add('toxic');
  if (traits === undefined || traits.low_pressure) all.add('low_pressure');
  return (Object.keys(CAUTIONS) as CautionId[]).flatMap((id) => (all.has(id) ? [{ id, text: CAUTIONS[id] }] : []));
}
