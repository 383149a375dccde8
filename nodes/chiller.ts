/** Settings that several nodes share: one chiller, as the site file of the agent describes it. */

import { fail, type Result } from '../agent/base/result.ts';
import type { ConfigIssue } from '../agent/config/load.ts';
import { formatIssues } from '../agent/config/load.ts';
import { openSection } from '../agent/config/section.ts';
import { recordSolver, type SolveRecord } from '../agent/site/given.ts';
import { type FlowNode, type NodeConfig, type Runtime, textOf } from './lib/runtime.ts';

/** What a node finds at the chiller it names. */
export interface ChillerNode extends FlowNode {
  readonly solver: Result<SolveRecord>;
}

export function solverOf(section: string, barometer: string): Result<SolveRecord> {
  const read = openSection(section, { name: 'description', barometer });
  return read.ok ? recordSolver(read.value) : fail(read.fault[0]?.code ?? 'config_value', said(read.fault));
}

function said(issues: readonly ConfigIssue[]): string {
  return formatIssues(issues).trimEnd();
}

export default function register(runtime: Runtime): void {
  runtime.nodes.registerType('tonhour-chiller', function chiller(this: FlowNode, config: NodeConfig) {
    runtime.nodes.createNode(this, config);
    const barometer = textOf(config['barometer']) || '101.325 kPa';
    const solver = solverOf(String(config['description'] ?? ''), barometer);
    Object.assign(this, { solver });
    if (!solver.ok) this.error(solver.fault.message);
  });
}
