/** Node: a pair of properties in, the state of the refrigerant out. */
import { fail, ok, type Result } from '../agent/base/result.ts';
import { PAIRS, pairOf } from '../agent/refrigerant/pairs.ts';
import { refrigerant } from '../agent/refrigerant/refrigerants.ts';
import { type Answer, answerMessages } from './lib/answering.ts';
import { type FlowMessage, type FlowNode, type NodeConfig, type Runtime, textOf } from './lib/runtime.ts';

export default function register(runtime: Runtime): void {
  runtime.nodes.registerType('tonhour-properties', function properties(this: FlowNode, config: NodeConfig) {
    runtime.nodes.createNode(this, config);
    answerMessages(this, (message) => answer(message, config));
  });
}

function answer(message: FlowMessage, config: NodeConfig): Result<Answer> {
  const name = textOf(message['refrigerant']) || textOf(config['refrigerant']);
  const pair = textOf(message['pair']) || textOf(config['pair']);
  const fluid = refrigerant(name);
  if (!fluid.ok) return fluid;
  const stateOf = pairOf(pair);
  if (stateOf === null) return fail('bad_record', `no pair '${pair}'; pairs are ${PAIRS.join(', ')}`);
  const state = stateOf(fluid.value, message.payload);
  if (!state.ok) return state;
  return ok({ payload: state.value, status: { fill: 'green', shape: 'dot', text: `${fluid.value.name} ${pair}` } });
}
