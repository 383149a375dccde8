/** Node: what a running agent publishes, minute by minute, as any subscriber of its broker sees it. */
import { randomBytes } from 'node:crypto';
import { connect, type IClientOptions, type MqttClient } from 'mqtt';
import { fail, ok, type Result } from '../agent/base/result.ts';
import { errorOf, refuseMessages, statusOf } from './lib/answering.ts';
import { type Arrival, filterOf, KINDS, type Kind, published, Sequences } from './lib/published.ts';
import { type FlowNode, type NodeConfig, type NodeStatus, type Runtime, textOf } from './lib/runtime.ts';
import type { Place, SiteNode } from './site.ts';

const FAREWELL_MS = 2000;
/** MQTT 3.1.1, which brokers of version 5 speak as well as older ones. */
const OPTIONS: IClientOptions = {
  protocolVersion: 4,
  clean: true,
  keepalive: 30,
  reconnectPeriod: 5000,
  connectTimeout: 10_000,
};

export default function register(runtime: Runtime): void {
  runtime.nodes.registerType('tonhour-minutes', function minutes(this: FlowNode, config: NodeConfig) {
    runtime.nodes.createNode(this, config);
    const wanted = wantedOf(config, runtime.nodes.getNode(config['site']) as SiteNode | null);
    if (!wanted.ok) {
      refuseMessages(this, wanted.fault);
      return;
    }
    const client = listen(this, wanted.value);
    this.on('close', (_removed, done) => farewell(client, done));
  });
}

interface Wanted {
  readonly place: Place;
  readonly kind: Kind;
  readonly filter: string;
}

function wantedOf(config: NodeConfig, site: SiteNode | null): Result<Wanted> {
  if (site === null) return fail('node_settings', 'no site is chosen: open the node and choose or add one');
  if (!site.place.ok) return site.place;
  const place = site.place.value;
  const kind = KINDS.find((each) => each === (textOf(config['kind']) || 'metrics'));
  if (kind === undefined) return fail('node_settings', `what to listen to: one of ${KINDS.join(', ')}`);
  const chiller = textOf(config['chiller']);
  if (/[+#/\s]/.test(chiller)) return fail('node_settings', `chiller '${chiller}': an id of the site file, or nothing`);
  return ok({ place, kind, filter: filterOf(place.root, kind, chiller) });
}

function listen(node: FlowNode, { place, kind, filter }: Wanted): MqttClient {
  const show = statusOf(node);
  const away = (reason: string): void => show({ fill: 'red', shape: 'ring', text: reason });
  const sequences = new Sequences();
  const statusTopic = filterOf(place.root, 'status', '');
  show({ fill: 'yellow', shape: 'ring', text: 'connecting' });
  const client = connect(place.url, {
    ...OPTIONS,
    ...place.options,
    clientId: `tonhour-${randomBytes(6).toString('hex')}`,
  });
  let trouble = '';
  client.on('connect', () => {
    trouble = '';
    show({ fill: 'green', shape: 'ring', text: 'waits for the agent' });
    client.subscribe([...new Set([filter, statusTopic])], { qos: 1 }, (error, granted) => {
      const refused = granted?.find(({ qos }) => qos === 128);
      if (error !== null || refused !== undefined) {
        node.error(`the broker refuses ${refused?.topic ?? filter}: ${error?.message ?? 'check its access list'}`);
        away('subscription refused');
      }
    });
  });
  client.on('error', (error) => {
    // Told once: the client tries again every few seconds.
    if (trouble !== error.message) node.error(`broker ${place.url}: ${error.message}`);
    trouble = error.message;
    away(trouble);
  });
  client.on('close', () => away(trouble || 'broker away'));
  client.on('message', (topic, payload, { qos, retain }) => {
    const arrival = { topic, payload, qos, retain };
    if (topic === statusTopic) show(agentStatus(arrival, place.root));
    if (topic === statusTopic && kind !== 'status') return;
    const message = published(arrival, kind, place.root, sequences);
    if (message.ok) node.send(message.value);
    else node.error(errorOf(message.fault), { topic, payload });
  });
  return client;
}

/** The agent's own word, or the broker's last will, on whether it is there. */
function agentStatus(arrival: Arrival, root: string): NodeStatus {
  const word = published(arrival, 'status', root, new Sequences());
  const online = word.ok && (word.value.payload as { status?: unknown } | null)?.status === 'online';
  return { fill: online ? 'green' : 'red', shape: 'dot', text: online ? 'agent online' : 'agent offline' };
}

/** Bounded: a broker that no longer answers must not hold up a deployment. */
function farewell(client: MqttClient, done: () => void): void {
  const late = setTimeout(() => client.end(true, {}, finish), FAREWELL_MS);
  const finish = (): void => {
    clearTimeout(late);
    done();
  };
  client.end(false, {}, finish);
}
