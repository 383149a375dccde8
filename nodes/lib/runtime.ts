/** What these nodes use of Node-RED, as its documents describe it ("Creating nodes"). */

export interface FlowMessage {
  payload?: unknown;
  topic?: unknown;
  [key: string]: unknown;
}

export interface NodeStatus {
  readonly fill?: 'red' | 'green' | 'yellow' | 'blue' | 'grey';
  readonly shape?: 'ring' | 'dot';
  readonly text?: string;
}

type Send = (message: FlowMessage) => void;
type Done = (error?: Error) => void;

export interface FlowNode {
  readonly id: string;
  readonly credentials?: Readonly<Record<string, unknown>>;
  on(event: 'input', run: (message: FlowMessage, send: Send, done: Done) => void): void;
  on(event: 'close', run: (removed: boolean, done: () => void) => void): void;
  send(message: FlowMessage): void;
  /** With a message, catch nodes get it. */
  error(error: Error | string, message?: FlowMessage): void;
  status(status: NodeStatus): void;
}

/** What the editor stored of a node. */
export type NodeConfig = Readonly<Record<string, unknown>>;

export interface Runtime {
  readonly nodes: {
    createNode(node: FlowNode, config: NodeConfig): void;
    registerType(
      type: string,
      build: (this: FlowNode, config: NodeConfig) => void,
      options?: { readonly credentials: Readonly<Record<string, { readonly type: 'text' | 'password' }>> },
    ): void;
    getNode(id: unknown): FlowNode | null;
  };
}

/** A setting as text; '' where there is none. */
export function textOf(value: unknown): string {
  return typeof value === 'string' ? value.trim() : '';
}
