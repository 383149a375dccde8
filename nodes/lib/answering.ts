/** How every node answers: the outcome leaves by `send`, a fault goes to the catch nodes, the state to the editor. */
import type { Fault, Result } from '../../agent/base/result.ts';
import type { FlowMessage, FlowNode, NodeStatus } from './runtime.ts';

/** Characters of a message beside a node in the editor. */
const STATUS_CHARACTERS = 60;

/**
 * A fault as Node-RED takes it: catch nodes find `msg.error.code` beside `msg.error.message`. It is no slip of a
 * programmer, so it shows neither the word Error nor where in the code it was noticed.
 */
export function errorOf({ code, message }: Fault): Error {
  const error = Object.assign(new Error(message), { code, name: '' });
  delete error.stack;
  return error;
}

/** Shows a state in the editor, once as long as it does not change: a flood of messages is no flood of states. */
export function statusOf(node: FlowNode): (status: NodeStatus) => void {
  let shown = '';
  return (status) => {
    const text = status.text ?? '';
    const short = text.length > STATUS_CHARACTERS ? `${text.slice(0, STATUS_CHARACTERS - 1)}\u2026` : text;
    const key = `${status.fill} ${status.shape} ${short}`;
    if (key === shown) return;
    shown = key;
    node.status({ ...status, text: short });
  };
}

export interface Answer {
  /** Null: nothing leaves for this message. */
  readonly payload: unknown;
  readonly status: NodeStatus;
}

/**
 * Answers each message: the payload of the answer takes the place of the message's own, the rest of the message stays.
 * Whatever goes wrong, also a slip in our own code, ends as this message's error and never in the host.
 */
export function answerMessages(
  node: FlowNode,
  answer: (message: FlowMessage) => Result<Answer>,
  show = statusOf(node),
): void {
  node.on('input', (message, send, done) => {
    let failure: Error;
    try {
      const answered = answer(message);
      if (answered.ok) {
        show(answered.value.status);
        if (answered.value.payload !== null) send({ ...message, payload: answered.value.payload });
        done();
        return;
      }
      failure = errorOf(answered.fault);
    } catch (error) {
      failure = error instanceof Error ? error : new Error(String(error));
    }
    show({ fill: 'red', shape: 'ring', text: failure.message });
    done(failure);
  });
}

/** A node whose settings are wrong says so once when it is deployed, and answers every message with the same. */
export function refuseMessages(node: FlowNode, fault: Fault): void {
  node.error(errorOf(fault));
  answerMessages(node, () => ({ ok: false, fault }));
  node.status({ fill: 'red', shape: 'ring', text: fault.message.slice(0, STATUS_CHARACTERS) });
}
