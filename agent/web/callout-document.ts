/**
 * A callout packet as one HTML document that asks the network for nothing: style and typeface are inside, and its own
 * policy forbids the rest. Made here, beside the page, because it is drawn by the page's renderers: the same diagram,
 * units and words as on the screen. Sinks and commands are handed the text.
 */
import { createHash } from 'node:crypto';
import type { CalloutPacket } from '../callout/packet.ts';
import type { Diagram } from '../cycle/diagram.ts';
import { catalogue } from '../metrics/catalogue.ts';
import { calloutBody, calloutTitle } from './page/callout.js';
import { esc } from './page/text.js';
import type { UnitSystem, View } from './page-types.ts';
import type { Now } from './types.ts';

const STYLES = ['ink', 'frame', 'sheet', 'alarms', 'callout'];

/** Style of the document, and the policy that allows it and nothing else; made once. */
export interface CalloutStyle {
  readonly text: string;
  readonly policy: string;
}

/** `read` gives the style sheets and typefaces of the page by name. */
export function calloutStyle(read: (name: string) => Buffer): CalloutStyle {
  const text = STYLES.map((name) => read(`${name}.css`).toString())
    .join('\n')
    .replace(/\/\*[\s\S]*?\*\//g, '')
    .replace(/\s*\n\s*/g, '\n')
    .replace(
      /url\((sheet-\d+\.woff2)\)/g,
      (_, name: string) => `url(data:font/woff2;base64,${read(name).toString('base64')})`,
    );
  const hash = createHash('sha256').update(text).digest('base64');
  return {
    text,
    policy: `default-src 'none'; style-src 'sha256-${hash}'; font-src data:; img-src data:; base-uri 'none'; form-action 'none'`,
  };
}

/** `system` left out: the units of the site. */
export function calloutDocument(
  packet: CalloutPacket,
  {
    style,
    diagram,
    system = packet.site.unit_system,
  }: { readonly style: CalloutStyle; readonly diagram: Diagram | null; readonly system?: UnitSystem },
): string {
  return (
    '<!doctype html><html lang="en" data-look="light"><head><meta charset="utf-8">' +
    `<meta http-equiv="content-security-policy" content="${esc(style.policy)}">` +
    '<meta name="viewport" content="width=device-width,initial-scale=1"><meta name="color-scheme" content="light">' +
    `<title>${esc(calloutTitle(packet))}</title><style>${style.text}</style></head><body>` +
    `${calloutBody(packet, viewOf(packet, { diagram, system }))}</body></html>\n`
  );
}

/** The minute of the alarm as the page's renderers take it: their present is that minute. */
function viewOf(
  { site, chiller, machine, alarm, time, sequence, version }: CalloutPacket,
  { diagram, system }: { readonly diagram: Diagram | null; readonly system: UnitSystem },
): View {
  const now: Now = {
    chiller: chiller.id,
    time,
    sequence,
    interval_s: site.interval_s,
    ...machine,
    random_share: {},
    reconciliation: null,
    link: { state: 'connected', since: time, reason: null },
    points_read: Object.keys(machine.points).length,
    points_mapped: Object.keys(machine.points).length,
    alarms: [alarm],
  };
  return {
    site: {
      ...site,
      version,
      demo: false,
      chillers: [
        {
          id: chiller.id,
          arrangement: chiller.arrangement,
          circuit: chiller.circuit,
          refrigerant: chiller.refrigerant_label,
          rated_capacity_kw: chiller.rated_capacity_kw,
          pressure_window: chiller.pressure_window,
        },
      ],
      catalogue: catalogue(),
    },
    chosen: chiller.id,
    nows: { [chiller.id]: now },
    last: {},
    plant: { time, chillers: 1, running: 1, unknown: [], values: {}, uncertainty: {}, quality: {} },
    diagram,
    series: {},
    sparks: {},
    alarms: [alarm],
    alarm: null,
    desk: null,
    served: time,
    system,
    season: null,
    look: 'light',
    clock: Date.parse(time),
    page: 'alarms',
  };
}
