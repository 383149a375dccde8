/** Electrical power, from meters alone; percent current is no power. */
import type { MachineName } from '../arrangements/type.ts';
import type { CycleContext, Quantity } from '../context.ts';
import { absent, secondMachine } from './machines.ts';

const MACHINES: readonly MachineName[] = ['main_compressor', 'economizer_compressor'];

export const powerQuantities: readonly Quantity[] = [
  ...MACHINES.flatMap((name): Quantity[] => [
    { name: `meter:${name}`, compute: (c) => c.point(`${name}.power`) },
    { name: `volts_amps:${name}`, compute: (c) => voltsAmps(c, name) },
    {
      // One machine's own meter, else its amps, volts and power factor.
      name: `drive_power:${name}`,
      compute: (c) =>
        c.hasPoint(`${name}.power`) || !c.has(`volts_amps:${name}`)
          ? c.figure(`meter:${name}`)
          : c.figure(`volts_amps:${name}`),
    },
  ]),
  {
    // The whole chiller from meters: its own, else the machines' together.
    name: 'unit_power',
    compute(c) {
      if (c.hasPoint('unit.power')) return c.point('unit.power');
      if (!c.has('drive_power:main_compressor')) return c.missing(noPower(c));
      const main = c.figure('drive_power:main_compressor');
      return secondMachine(c) ? main + c.figure('drive_power:economizer_compressor') : main;
    },
  },
  {
    // Of the compressors together: the chiller's meter counts what else it drives.
    name: 'compressors_power',
    compute(c) {
      if (!c.hasPoint('unit.power')) return c.figure('unit_power');
      return c.point('unit.power') - c.assumed('assumed.auxiliary_power');
    },
  },
  {
    // Main compressor without knowing its work: its own meter, else the chiller's less the economizer's.
    name: 'main_drive_power',
    compute(c) {
      if (c.has('drive_power:main_compressor')) return c.figure('drive_power:main_compressor');
      if (!c.hasPoint('unit.power')) return c.missing(noPower(c));
      const main = c.figure('compressors_power') - (secondMachine(c) ? c.figure('economizer_drive_power') : 0);
      return main <= 0 ? c.missing('the economizer compressor takes more than unit.power') : main;
    },
  },
  {
    // Economizer compressor: its own meter, else from its flow and work.
    name: 'economizer_drive_power',
    compute(c) {
      const gone = absent(c, 'economizer_compressor');
      if (gone !== null) return gone;
      if (c.has('drive_power:economizer_compressor')) return c.figure('drive_power:economizer_compressor');
      return c.figure('flash_tank.vapour_mass_flow') * c.figure('specific_power:economizer_compressor');
    },
  },
  {
    // What the oil cooler gives to water outside does not reach the circuit.
    name: 'power_into_circuit',
    compute: (c) => c.figure('power_of_drives') - c.assumed('assumed.oil_cooler_heat'),
  },
  {
    name: 'power_of_drives',
    compute(c) {
      const { main_compressor: main, economizer_compressor: economizer } = c.parameters;
      const drive = c.assumed('assumed.main_compressor_drive');
      const alike = main.motor === economizer.motor || !secondMachine(c);
      if (alike) return c.figure('compressors_power') * (main.motor === 'open' ? drive : 1);
      const share = (name: MachineName) =>
        c.figure(`drive_power:${name}`) *
        (c.parameters[name].motor === 'open' ? c.assumed(`assumed.${name}_drive`) : 1);
      return share('main_compressor') + share('economizer_compressor');
    },
  },
];

function voltsAmps(c: CycleContext, name: MachineName): number {
  const parts = ['current', 'voltage', 'power_factor'].map((part) => `${name}.${part}`);
  const [current, voltage, factor] = parts.map((part) => c.point(part)) as [number, number, number];
  return Math.sqrt(3) * current * voltage * factor * c.assumed(`assumed.${name}_volts_amps`);
}

function noPower(c: CycleContext): string {
  const bad = ['unit.power', 'main_compressor.power']
    .map((name) => c.whyPoint(name))
    .find((why) => why?.includes(' is bad'));
  if (bad != null) return bad;
  return 'neither unit.power nor main_compressor.power is measured; percent current is no power';
}
