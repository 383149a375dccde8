import type { State } from '../refrigerant/types.ts';
import type { Flows } from './balances.ts';
import type { Ledger } from './ledger.ts';
import type { CycleState } from './types.ts';

/**
 * The numbered states that there are, with their flows where known: of the circuit as it runs, or as it would run the
 * other way.
 */
export function numberedStates(ledger: Ledger, way: 'state' | 'ghost'): Record<string, CycleState> {
  const circuit = way === 'state' ? ledger.circuit : ledger.other;
  const result: Record<string, CycleState> = {};
  if (circuit === null) return result;
  const entry = ledger.entry(way === 'state' ? 'flows' : 'ghost_flows');
  const flows = typeof entry === 'object' && !('missing' in entry) ? (entry as Flows) : {};
  for (const node of circuit.nodes) {
    const value = ledger.entry(`${way}:${node.number}`);
    if (typeof value === 'number' || 'missing' in value) continue;
    const { T, p, h, s, q } = value as State;
    result[node.number] = { T, p, h, s, q, m: flows[node.stream] ?? null };
  }
  return result;
}
