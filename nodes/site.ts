/** Settings that several nodes share: a running agent, as the broker knows it. */
import type { IClientOptions } from 'mqtt';
import { fail, ok, type Result } from '../agent/base/result.ts';
import { type FlowNode, type NodeConfig, type Runtime, textOf } from './lib/runtime.ts';

export interface Place {
  readonly url: string;
  /** `<prefix>/<site>` */
  readonly root: string;
  readonly options: IClientOptions;
}

export interface SiteNode extends FlowNode {
  readonly place: Result<Place>;
}

/** Node-RED's own settings of certificates. */
interface TlsNode extends FlowNode {
  addTLSOptions(options: IClientOptions): IClientOptions;
}

export function placeOf(config: NodeConfig, credentials: NodeConfig, tls: TlsNode | null): Result<Place> {
  const url = textOf(config['url']);
  const address = URL.canParse(url) ? new URL(url) : null;
  if (address === null || !['mqtt:', 'mqtts:', 'ws:', 'wss:'].includes(address.protocol) || address.hostname === '')
    return fail('node_settings', `broker '${url}': write mqtt://host:1883, or mqtts://host:8883 with TLS`);
  if (address.username !== '' || address.password !== '')
    return fail('node_settings', 'broker: give user and password in their own fields, not within the address');
  const [prefix, site] = [textOf(config['prefix']) || 'tonhour', textOf(config['site'])];
  if (!/^[^+#\s/]+$/.test(site)) return fail('node_settings', `site '${site}': the id that the site file gives`);
  if (!/^[^+#\s]+$/.test(prefix)) return fail('node_settings', `prefix '${prefix}': a topic without +, # and blanks`);
  const username = textOf(credentials['username']);
  const password = credentials['password'];
  const options: IClientOptions = {
    ...(username === '' ? {} : { username }),
    ...(typeof password === 'string' && password !== '' ? { password } : {}),
  };
  return ok({ url, root: `${prefix}/${site}`, options: tls === null ? options : tls.addTLSOptions(options) });
}

export default function register(runtime: Runtime): void {
  runtime.nodes.registerType(
    'tonhour-site',
    function site(this: FlowNode, config: NodeConfig) {
      runtime.nodes.createNode(this, config);
      const tls = runtime.nodes.getNode(config['tls']) as TlsNode | null;
      const place = placeOf(config, this.credentials ?? {}, tls);
      Object.assign(this, { place });
      if (!place.ok) this.error(place.fault.message);
    },
    { credentials: { username: { type: 'text' }, password: { type: 'password' } } },
  );
}
