import { storing } from './arrangements/storage.ts';
import { arrangementOf } from './arrangements/table.ts';
import type { Circuit, Vessel } from './arrangements/type.ts';
import type { Quantity } from './context.ts';
import { Table } from './interval.ts';
import { CYCLE_METRICS } from './metrics/definitions.ts';
import type { ChillerParameters } from './parameters.ts';
import { capacityQuantities } from './quantities/capacity.ts';
import { portsOf } from './quantities/gas.ts';
import { levelQuantities, nodeQuantities } from './quantities/levels.ts';
import { besideQuantities, machineQuantities } from './quantities/machines.ts';
import { powerQuantities } from './quantities/power.ts';
import { resolvedQuantities } from './quantities/resolved.ts';
import { closedPortQuantities, stageQuantities } from './quantities/stages.ts';
import { storageQuantities } from './quantities/storage.ts';
import { tankQuantities } from './quantities/tank.ts';

/** Both ways an arrangement can run, as tables of quantities. */
export interface Tables {
  readonly on: Table;
  readonly off: Table;
}

/** How the compressors of a circuit are computed, and what its economizer is compared with. */
function compressing(circuit: Circuit, other: Circuit | null): readonly Quantity[] {
  if (portsOf(circuit).length > 0) return stageQuantities(circuit);
  const closed = other !== null && portsOf(other).length > 0;
  return [...machineQuantities, ...(closed ? closedPortQuantities(other) : besideQuantities)];
}

function table(circuit: Circuit, other: Circuit | null): Table {
  const quantities: Quantity[] = [
    ...levelQuantities,
    ...nodeQuantities(circuit, other),
    ...compressing(circuit, other),
    ...powerQuantities,
    ...storageQuantities(circuit),
    ...capacityQuantities,
    ...tankQuantities,
    ...resolvedQuantities,
    ...CYCLE_METRICS,
  ];
  return new Table(quantities, circuit, other);
}

/** `vessels`: those of which it is known what they store. What the circuit is compared with stores nothing. */
export function tablesOf(
  arrangement: ChillerParameters['arrangement'],
  stages: ChillerParameters['stages'] = 2,
  vessels: readonly Vessel[] = [],
): Tables {
  const { on, off, without } = arrangementOf({ arrangement, stages });
  const running = table(storing(on, vessels), without);
  return { on: running, off: off === null ? running : table(storing(off, vessels), on) };
}
