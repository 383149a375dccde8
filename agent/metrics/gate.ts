/**
 * The steady gate: what the state of the machine does to the figures of a cycle that was solved as if it stood still.
 */
import type { Figure } from '../base/metric.ts';
import type { RunningState } from '../points/running.ts';

/** Hold at standstill too: made from one pressure each, with no flow behind them. */
const ALWAYS: ReadonlySet<string> = new Set([
  'evaporator.saturation_temperature',
  'condenser.saturation_temperature',
  'flash_tank.saturation_temperature',
  'unit.power',
]);

/**
 * A machine that does not run has no cycle: its figures are missing with that reason, from the first interval after
 * it stopped (`stopping` is entered then, while pressures still come together). While it moves (start, pull-down, load
 * change) the balances leave out what levels and metal store: the figures are uncertain and say so.
 */
export function gateFigures(
  figures: Readonly<Record<string, Figure>>,
  gate: { readonly running: RunningState },
): Record<string, Figure> {
  const { running } = gate;
  const stopped = running.running === false && running.state !== 'unknown';
  // An agent started beside a running machine has no past to judge by: that alone is no evidence of movement.
  const moving = !stopped && running.state !== 'steady' && running.state !== 'running';
  const gated: Record<string, Figure> = {};
  for (const [name, figure] of Object.entries(figures)) {
    if (ALWAYS.has(name) || (!stopped && !moving)) gated[name] = figure;
    else if (stopped)
      gated[name] = { value: null, uncertainty: null, quality: 'bad', reason: `the machine is ${running.state}` };
    else if (figure.quality === 'good') gated[name] = { ...figure, quality: 'uncertain', reason: notSteady(running) };
    else gated[name] = figure;
  }
  return gated;
}

function notSteady({ state }: RunningState): string {
  return state === 'unknown' ? 'no point says whether the chiller runs' : `not steady: ${state}`;
}
