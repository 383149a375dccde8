/**
 * A host as small as nodes need one: it builds a node and hands it messages. Whether they live in Node-RED itself is
 * tested there (`tests/interop/node-red`).
 */
import type { FlowMessage, FlowNode, NodeConfig, NodeStatus, Runtime } from '../../../nodes/lib/runtime.ts';

type Register = (runtime: Runtime) => void;
type Input = (message: FlowMessage, send: (message: FlowMessage) => void, done: (error?: Error) => void) => void;

export interface Placed {
  readonly node: FlowNode;
  readonly statuses: NodeStatus[];
  readonly errors: string[];
  /** What left, and how the node ended the message: null for done. */
  take(message: FlowMessage): {
    readonly sent: readonly FlowMessage[];
    readonly error: (Error & { code?: string }) | null;
  };
  close(): Promise<void>;
}

/** Builds one node of a file; `others` are the nodes that its settings name. */
export function place(register: Register, config: NodeConfig, others: Readonly<Record<string, FlowNode>> = {}): Placed {
  const inputs: Input[] = [];
  const closes: ((removed: boolean, done: () => void) => void)[] = [];
  const statuses: NodeStatus[] = [];
  const errors: string[] = [];
  const node: FlowNode = {
    id: 'n1',
    on: (event: 'input' | 'close', run: unknown) => void (event === 'input' ? inputs : closes).push(run as never),
    send: () => {},
    error: (error) => void errors.push(String(error)),
    status: (status) => void statuses.push(status),
  };
  register({
    nodes: {
      createNode: () => {},
      registerType: (_type, build) => build.call(node, config),
      getNode: (id) => others[String(id)] ?? null,
    },
  });
  return {
    node,
    statuses,
    errors,
    take(message) {
      const sent: FlowMessage[] = [];
      const ends: (Error | undefined)[] = [];
      for (const input of inputs)
        input(
          message,
          (out) => sent.push(out),
          (error) => ends.push(error),
        );
      if (ends.length !== 1) throw new Error(`the node ended one message ${ends.length} times`);
      return { sent, error: ends[0] ?? null };
    },
    close: async () => {
      for (const close of closes) await new Promise<void>((resolve) => close(false, resolve));
    },
  };
}
