/** Runs a machine under constant surroundings until it rests. */
import { WATTS_PER_TON } from '../../../agent/base/units.ts';
import { InterstageCircuit } from '../../../agent/plant/interstage.ts';
import { InterstageControls } from '../../../agent/plant/interstage-controls.ts';
import { InterstageTruth } from '../../../agent/plant/interstage-truth.ts';
import { CH1 } from '../../../agent/plant/kestrel-quay/ch1.ts';
import { CH2 } from '../../../agent/plant/kestrel-quay/ch2.ts';
import type { MetricValues } from '../../../agent/plant/machine.ts';
import { ParallelCircuit } from '../../../agent/plant/parallel.ts';
import { ParallelControls } from '../../../agent/plant/parallel-controls.ts';
import { ParallelTruth } from '../../../agent/plant/parallel-truth.ts';

export interface Conditions {
  /** Tons asked for; degC of condenser water. */
  readonly tons: number;
  readonly condenserWater: number;
  readonly economizer?: boolean;
  readonly leaving?: number;
}

export function steady(conditions: Conditions): { circuit: ParallelCircuit; metrics: Record<string, number> } {
  const circuit = new ParallelCircuit(CH1.machine);
  const leaving = (conditions.leaving ?? 6.667) + 273.15;
  const controls = new ParallelControls(
    circuit,
    { ...CH1.controls, leavingChilledSetpoint: leaving },
    1500 * WATTS_PER_TON,
  );
  controls.economizerLocked = conditions.economizer === false;
  const surroundings = {
    chilledEntering: leaving + (conditions.tons * WATTS_PER_TON) / (0.2271 * 999.6 * 4195),
    chilledFlow: 0.2271,
    condenserEntering: conditions.condenserWater + 273.15,
    condenserFlow: 0.2839,
    room: 299,
    suctionSuperheat: 2,
  };
  for (let s = 0; s < 3 * 3600; s++) {
    controls.step(1, {
      leavingChilled: circuit.chilledWater.leaving,
      condenserLevel: circuit.condenserLevel,
      tankLevel: circuit.tankLevel,
      tankTemperature: circuit.tank.saturation.T,
    });
    for (let i = 0; i < 4; i++) circuit.step(0.25, surroundings);
  }
  const metrics: MetricValues = {};
  new ParallelTruth(circuit, 1500 * WATTS_PER_TON).metrics(metrics);
  return { circuit, metrics: metrics as Record<string, number> };
}

/** CH-2. */
export function steadyInterstage(conditions: Conditions): {
  circuit: InterstageCircuit;
  metrics: Record<string, number>;
} {
  const circuit = new InterstageCircuit(CH2.machine);
  const leaving = (conditions.leaving ?? 6.667) + 273.15;
  const rated = 900 * WATTS_PER_TON;
  const controls = new InterstageControls(circuit, { ...CH2.controls, leavingChilledSetpoint: leaving }, rated);
  controls.economizerLocked = conditions.economizer === false;
  const { chilledFlow, condenserFlow } = CH2.world;
  const surroundings = {
    chilledEntering: leaving + (conditions.tons * WATTS_PER_TON) / (chilledFlow * 999.6 * 4195),
    chilledFlow,
    condenserEntering: conditions.condenserWater + 273.15,
    condenserFlow,
    room: 299,
    suctionSuperheat: 2,
  };
  for (let s = 0; s < 3 * 3600; s++) {
    controls.step(1, {
      leavingChilled: circuit.chilledWater.leaving,
      condenserLevel: circuit.condenserLevel,
      tankLevel: circuit.tankLevel,
    });
    for (let i = 0; i < 4; i++) circuit.step(0.25, surroundings);
  }
  const metrics: MetricValues = {};
  new InterstageTruth(circuit, rated).metrics(metrics);
  return { circuit, metrics: metrics as Record<string, number> };
}
