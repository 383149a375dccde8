/** A site file to complete: valid YAML, with a question mark in a comment wherever a person must decide. */
import { pointDefinition } from '../points/dictionary.ts';
import type { NamedObject, Suggestion, Suggestions } from './suggest.ts';

export interface FoundController {
  /** Lines below `source:`, such as `bacnet: { device: 4702, address: 10.0.0.5 }`. */
  readonly source: string;
  /** What it is, for a comment; null where it does not say. */
  readonly about: string | null;
  readonly suggestions: Suggestions;
}

const HEAD = `# yaml-language-server: $schema=./site.schema.json
# A draft from what was found on the bus. Every '?' is yours to decide: nothing here was said by the machine itself.
# config/template.yaml explains every key. Then: tonhour check --config FILE, while the machine runs.
version: 1

site:
  id: my-site # ?
  name: My site # ?
  time_zone: UTC # ? IANA name, such as Europe/Berlin
  altitude: 0 m # ? or barometer: 101.3 kPa

chillers:
`;

/** Text of the draft; one chiller for each controller. */
export function draftSite(controllers: readonly FoundController[]): string {
  return `${HEAD}${controllers.map((controller, index) => chiller(controller, index + 1)).join('\n')}`;
}

function chiller({ source, about, suggestions }: FoundController, number: number): string {
  const { points, others } = suggestions;
  const lines = [
    `  - id: CH-${number} # ?${about === null ? '' : ` ${comment(about)}`}`,
    '    machine:',
    '      refrigerant: R134a # ? see the name plate: R134a, R1233zdE, R123, R1234zeE, R1234yf, R22, R11',
    '      arrangement: simple # ? simple: no economizer; parallel: tank with its own compressor; interstage; subcooler',
    '      rated_capacity: 500 ton # ?',
    '',
    '    source:',
    `      ${source}`,
    '',
    points.length === 0 ? '    points: {} # ? at least one' : '    points:',
    ...points.flatMap(entry),
  ];
  if (others.length > 0) lines.push('', '      # Found beside these and not recognised:', ...others.map(other));
  return `${lines.join('\n')}\n`;
}

function entry({ point, object, unit, unsure }: Suggestion): string[] {
  const { dimension, meaning } = pointDefinition(point);
  const lines = [`      ${point}: # ${meaning}`, `        address: { object: ${object.address} } # ${said(object)}`];
  if (dimension === 'state' || dimension === 'count') return lines;
  if (unsure === 'unit')
    lines.push(`        unit: ${pointDefinition(point).unit} # ? the object says ${object.units ?? 'nothing'}`);
  else
    lines.push(
      `        unit: ${unit === '%' || unit === '1' ? `"${unit}"` : unit}${unsure === 'reference' ? ' # ? gauge or absolute' : ''}`,
    );
  const gauge = unit === 'psig' || unit === 'kPag' || unit === 'barg' || unit === 'inHg_vac';
  if (dimension === 'pressure' && gauge) lines.push('        reference: vented_gauge # ? or sealed_gauge');
  return lines;
}

function other(object: NamedObject): string {
  return `      #   ${object.address}: ${said(object)}`;
}

function said({ name, description, units }: NamedObject): string {
  const words = [name, description === name ? null : description, units].filter((each) => each !== null && each !== '');
  return comment(words.length === 0 ? 'says nothing of itself' : words.join(', '));
}

/** On one line: what a device says of itself must not end the comment. */
function comment(text: string): string {
  return text.replaceAll(/[\p{Cc}\u2028\u2029]+/gu, ' ').slice(0, 120);
}
