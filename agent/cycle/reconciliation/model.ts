/**
 * The balances of a circuit as equations in named quantities. Junctions and balances come from the arrangement's own
 * tables as they stand there; what sensors say of flows, heats and powers is a few relations more, the same for every
 * arrangement. A new arrangement takes part by its table alone, if its nodes have `state:<number>` in the ledger, its
 * heats are `evaporator.heat` and `condenser.heat`, and its works are `<machine>.shaft_power`.
 */
import { EVAPORATOR_LIQUID, storedIn } from '../arrangements/storage.ts';
import type { Circuit, MachineName, Node } from '../arrangements/type.ts';
import type { ChillerParameters } from '../parameters.ts';

/** A product of named quantities. */
export interface Term {
  readonly sign: number;
  readonly factors: readonly string[];
}

/** Sum of terms = 0. `mass` in kg/s, `energy` in W, `ratio` in what it is (all of its size). */
export interface Relation {
  readonly name: string;
  readonly kind: 'mass' | 'energy' | 'ratio';
  readonly terms: readonly Term[];
}

const term = (sign: number, ...factors: string[]): Term => ({ sign, factors });

/** Quantities that no sensor gives: flows, heats, works, electrical powers of single machines. */
export function isUnmeasured(name: string): boolean {
  return name.startsWith('m:') || name.endsWith('.heat') || /(shaft_power|motor_heat)$/.test(name) || isPower(name);
}

const isPower = (name: string): boolean => name.startsWith('power:');

/**
 * Node whose enthalpy stands for that of `number`: expansion keeps it.
 */
function source(circuit: Circuit, number: string): string {
  if (number === EVAPORATOR_LIQUID) return number;
  const node = circuit.nodes.find((each) => each.number === number) as Node;
  return node.rule.kind === 'expansion' ? source(circuit, node.rule.from) : number;
}

function tableRelations(circuit: Circuit): Relation[] {
  // what a level tells is measured, every other flow is found
  const told = new Set((circuit.stored ?? []).map(({ vessel }) => storedIn(vessel)));
  const flow = (stream: string): string => (told.has(stream) ? stream : `m:${stream}`);
  const carried = (sign: number, { stream, node }: { stream: string; node: string }): Term =>
    term(sign, flow(stream), `h:${source(circuit, node)}`);
  return [
    ...circuit.junctions.map(
      ({ name, enters, leaves }): Relation => ({
        name: `mass: ${name}`,
        kind: 'mass',
        terms: [...enters.map((s) => term(1, flow(s))), ...leaves.map((s) => term(-1, flow(s)))],
      }),
    ),
    ...circuit.balances.map(
      ({ name, enters, leaves, heat, work }): Relation => ({
        name: `energy: ${name}`,
        kind: 'energy',
        terms: [
          ...enters.map((each) => carried(1, each)),
          ...leaves.map((each) => carried(-1, each)),
          ...(heat === null ? [] : [term(heat.sign, heat.quantity)]),
          ...(work === null ? [] : [term(1, work)]),
        ],
      }),
    ),
  ];
}

/** Electrical power, its losses, and where they go. */
function machineRelations(circuit: Circuit, parameters: ChillerParameters): Relation[] {
  const names = circuit.machines.map(({ name }) => name);
  const drives = names.map(
    (name): Relation => ({
      name: `drive: ${name}`,
      kind: 'energy',
      terms: [term(1, `${name}.shaft_power`), term(-1, `assumed.${name}_drive`, `power:${name}`)],
    }),
  );
  const cooling = parameters.motor_cooling;
  const motor: Relation = {
    name: 'motor cooling heat',
    kind: 'energy',
    terms: [
      term(1, 'main_compressor.motor_heat'),
      ...(cooling
        ? [term(-1, 'power:main_compressor'), term(1, 'assumed.main_compressor_drive', 'power:main_compressor')]
        : []),
    ],
  };
  const bypass: Relation = {
    name: 'hot-gas bypass',
    kind: 'mass',
    terms: [term(1, 'm:bypass'), term(-1, 'bypass_share', 'm:main')],
  };
  return [...drives, ...(names.includes('main_compressor') ? [motor] : []), bypass];
}

/** Losses of a hermetic machine that no cooling stream of the table carries reach the condenser water all the same. */
function lossTerms(circuit: Circuit, parameters: ChillerParameters): Term[] {
  const lost = (name: MachineName): boolean =>
    parameters[name].motor === 'hermetic' && !(name === 'main_compressor' && parameters.motor_cooling);
  return circuit.machines
    .filter(({ name }) => lost(name))
    .flatMap(({ name }) => [term(-1, `power:${name}`), term(1, `assumed.${name}_drive`, `power:${name}`)]);
}

/** What sensors say. Each is left out where one of its measured quantities is missing. */
function sensorRelations(circuit: Circuit, parameters: ChillerParameters): Relation[] {
  const relation = (name: string, kind: Relation['kind'], ...terms: Term[]): Relation => ({ name, kind, terms });
  const machines = circuit.machines.map(({ name }) => name);
  return [
    relation(
      'chilled water heat',
      'energy',
      term(1, 'water_heat:chilled_water'),
      term(1, 'assumed.evaporator_heat_gain'),
      term(-1, 'evaporator.heat'),
    ),
    relation(
      'condenser water heat',
      'energy',
      term(1, 'water_heat:condenser_water'),
      term(1, 'assumed.condenser_heat_loss'),
      term(1, 'assumed.oil_cooler_heat'),
      term(-1, 'condenser.heat'),
      ...lossTerms(circuit, parameters),
    ),
    ...machines.flatMap((name) => [
      relation(`meter: ${name}`, 'energy', term(1, `meter:${name}`), term(-1, `power:${name}`)),
      relation(`amps, volts: ${name}`, 'energy', term(1, `volts_amps:${name}`), term(-1, `power:${name}`)),
    ]),
    relation(
      'meter: unit',
      'energy',
      term(1, 'unit.power'),
      term(-1, 'assumed.auxiliary_power'),
      ...machines.map((name) => term(-1, `power:${name}`)),
    ),
    relation('flash tank: pressure and temperature', 'ratio', term(1, 'tank_contradiction')),
    ...['chilled_water', 'condenser_water'].map((side) =>
      relation(`${side.replace('_', ' ')}: meter and bundle`, 'ratio', term(1, `flow_contradiction:${side}`)),
    ),
  ];
}

/** Names of all quantities that relations speak of. */
export function namesOf(relations: readonly Relation[]): string[] {
  return [...new Set(relations.flatMap(({ terms }) => terms.flatMap(({ factors }) => factors)))];
}

/** Every relation of a circuit of this machine. */
export function relationsOf(circuit: Circuit, parameters: ChillerParameters): Relation[] {
  return [
    ...tableRelations(circuit),
    ...machineRelations(circuit, parameters),
    ...sensorRelations(circuit, parameters),
  ];
}
