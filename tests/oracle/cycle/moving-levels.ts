/**
 * The machines of the emulated plant under constant surroundings while the set points of their levels wander up and
 * down: the rest of the machine is steady, so that what the vessels store stands alone. Minute means of what perfect
 * sensors show and of the plant's own flows; the plant computes from tables of an independent code and keeps mass and
 * energy of each vessel as states.
 */
import { slopeOf } from '../../../agent/base/slope.ts';
import { WATTS_PER_TON } from '../../../agent/base/units.ts';
import { InterstageCircuit } from '../../../agent/plant/interstage.ts';
import { InterstageControls } from '../../../agent/plant/interstage-controls.ts';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { CH2 } from '../../../agent/plant/kestrel-quay/ch2.ts';
import { ParallelCircuit } from '../../../agent/plant/parallel.ts';
import { ParallelControls } from '../../../agent/plant/parallel-controls.ts';

export type Points = Readonly<Record<string, { readonly value: number; readonly rate?: { value: number; u: number } }>>;

/** What the plant's own books say of a minute: kg/s and W, means. */
export interface Books {
  readonly condenser_stored: number;
  readonly tank_stored: number;
  /** Liquid leaving the condenser, vapour leaving the tank, vapour leaving the evaporator, liquid to the evaporator. */
  readonly drained: number;
  readonly vapour: number;
  readonly boiled: number;
  readonly feed: number;
  readonly capacity: number;
  readonly rejected: number;
}

export interface Minute {
  readonly points: Points;
  readonly books: Books;
}

interface Running {
  readonly circuit: ParallelCircuit | InterstageCircuit;
  readonly second: (levels: { condenser: number; tank: number }) => void;
  readonly running: string;
}

const KELVIN = 273.15;
const LEAVING = 6.667 + KELVIN;

function running(name: 'CH-1' | 'CH-2'): Running {
  const of = name === 'CH-1' ? CH1 : CH2;
  const tons = name === 'CH-1' ? 1200 : 720;
  const rated = of.world.ratedTons * WATTS_PER_TON;
  const { chilledFlow, condenserFlow } = of.world;
  const surroundings = {
    chilledEntering: LEAVING + (tons * WATTS_PER_TON) / (chilledFlow * 999.6 * 4195),
    chilledFlow,
    condenserEntering: 28 + KELVIN,
    condenserFlow,
    room: 299,
    suctionSuperheat: 0.5,
  };
  const setpoints = { condenser: 0.5, tank: 0.45 };
  // what loses heat to the room beside the water is configured by itself, and is no matter here
  const tight = { evaporatorAmbient: 0, condenserAmbient: 0, tankAmbient: 0, vapourLinePickUp: 0, auxiliaryPower: 0 };
  const controls = { leavingChilledSetpoint: LEAVING };
  const step = (circuit: ParallelCircuit | InterstageCircuit, control: () => void) => (to: typeof setpoints) => {
    Object.assign(setpoints, to);
    control();
    for (let i = 0; i < 4; i++) circuit.step(0.25, surroundings);
  };
  if (name === 'CH-1') {
    const circuit = new ParallelCircuit({ ...CH1.machine, ...tight, levelSetpoints: setpoints });
    const own = new ParallelControls(circuit, { ...CH1.controls, ...controls }, rated);
    const control = (): void => own.step(1, { ...seen(circuit), tankTemperature: circuit.tank.saturation.T });
    return { circuit, second: step(circuit, control), running: 'economizer_compressor.running' };
  }
  const circuit = new InterstageCircuit({ ...CH2.machine, ...tight, levelSetpoints: setpoints });
  const own = new InterstageControls(circuit, { ...CH2.controls, ...controls }, rated);
  return { circuit, second: step(circuit, () => own.step(1, seen(circuit))), running: 'economizer.running' };
}

function seen(circuit: ParallelCircuit | InterstageCircuit) {
  return {
    leavingChilled: circuit.chilledWater.leaving,
    condenserLevel: circuit.condenserLevel,
    tankLevel: circuit.tankLevel,
  };
}

/** Up and down between both in `period` s. */
function triangle(second: number, period: number, [low, high]: readonly [number, number]): number {
  const at = (second % period) / period;
  return low + (high - low) * (at < 0.5 ? 2 * at : 2 - 2 * at);
}

/** After hours of rest, `minutes` of moving levels: the condenser's within 20 min, the tank's within 28. */
export function movingLevels(name: 'CH-1' | 'CH-2', minutes: number): Minute[] {
  const { circuit, second, running: economizer } = running(name);
  for (let s = 0; s < 3 * 3600; s++) second({ condenser: 0.5, tank: 0.45 });
  return Array.from({ length: minutes }, (_, minute) => {
    const sums: Record<string, number> = {};
    const levels: Record<string, number[]> = { 'condenser.level': [], 'flash_tank.level': [] };
    const times: number[] = [];
    for (let s = 0; s < 60; s++) {
      const at = 60 * minute + s;
      second({ condenser: triangle(at, 1200, [0.35, 0.65]), tank: triangle(at, 1680, [0.35, 0.55]) });
      const now = { ...shown(circuit), ...books(circuit) };
      for (const [key, value] of Object.entries(now)) sums[key] = (sums[key] ?? 0) + value / 60;
      if (s % 2 === 1) {
        times.push(1000 * s);
        levels['condenser.level']?.push(circuit.condenserLevel);
        levels['flash_tank.level']?.push(circuit.tankLevel);
      }
    }
    const points: Record<string, Points[string]> = { [economizer]: { value: 1 } };
    for (const key of Object.keys(shown(circuit))) points[key] = { value: sums[key] as number };
    for (const [key, values] of Object.entries(levels)) {
      const rate = slopeOf(times, values, 0);
      points[key] = { value: sums[key] as number, ...(rate === null ? {} : { rate }) };
    }
    return { points, books: Object.fromEntries(Object.keys(books(circuit)).map((key) => [key, sums[key]])) as never };
  });
}

function shown(circuit: ParallelCircuit | InterstageCircuit): Record<string, number> {
  const { chilledWater, condenserWater, evaporator, tank, sump, gas } = circuit;
  return {
    'evaporator.pressure': evaporator.p,
    'condenser.pressure': circuit.condenserPressure,
    'flash_tank.pressure': tank.p,
    'condenser.liquid_temperature': sump.T,
    'main_compressor.suction_temperature': evaporator.saturation.T + circuit.leavingVapour.superheat,
    'unit.power': gas.electric,
    'chilled_water.entering_temperature': chilledWater.entering,
    'chilled_water.leaving_temperature': chilledWater.leaving,
    'condenser_water.entering_temperature': condenserWater.entering,
    'condenser_water.leaving_temperature': condenserWater.leaving,
    'condenser.level': circuit.condenserLevel,
    'flash_tank.level': circuit.tankLevel,
  };
}

function books(circuit: ParallelCircuit | InterstageCircuit): Record<keyof Books, number> {
  return {
    condenser_stored: circuit.sumpStored,
    tank_stored: circuit.tankStored,
    drained: circuit.condenserValveFlow + circuit.motorCoolingFlow,
    vapour: circuit.gas.tankVapour,
    boiled: circuit.gas.suction - circuit.motorCoolingFlow,
    feed: circuit.tankValveFlow,
    capacity: circuit.evaporatorHeat,
    rejected: circuit.condenserHeat,
  };
}
