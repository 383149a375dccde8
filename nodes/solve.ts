/** Node: the points of one interval in, the solved cycle out. */

import { ok, type Result } from '../agent/base/result.ts';
import { rfc3339 } from '../agent/base/time.ts';
import type { ChillerNode } from './chiller.ts';
import { type Answer, answerMessages, refuseMessages } from './lib/answering.ts';
import type { FlowMessage, FlowNode, NodeConfig, Runtime } from './lib/runtime.ts';

export default function register(runtime: Runtime): void {
  runtime.nodes.registerType('tonhour-solve', function solve(this: FlowNode, config: NodeConfig) {
    runtime.nodes.createNode(this, config);
    const chiller = runtime.nodes.getNode(config['chiller']) as ChillerNode | null;
    if (chiller === null) {
      refuseMessages(this, {
        code: 'node_settings',
        message: 'no chiller is chosen: open the node and choose or add one',
      });
      return;
    }
    if (!chiller.solver.ok) {
      refuseMessages(this, chiller.solver.fault);
      return;
    }
    const { value: solver } = chiller.solver;
    answerMessages(this, (message) => answer(solver(recordOf(message))));
  });
}

/** The record; where it says no time, the present. */
function recordOf({ payload }: FlowMessage): unknown {
  const record = typeof payload === 'object' && payload !== null && !Array.isArray(payload);
  return record && !('time' in payload) ? { time: rfc3339(Date.now()), ...payload } : payload;
}

function answer(solved: Result<object>): Result<Answer> {
  if (!solved.ok) return solved;
  const { state } = solved.value as { readonly state: string };
  return ok({
    payload: solved.value,
    status: { fill: state === 'running' ? 'green' : 'grey', shape: 'dot', text: state },
  });
}
