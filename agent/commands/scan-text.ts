/** What `scan` says to a person. */
import type { FoundController, FoundRegister } from '../scanning.ts';
import { suggestPoints } from '../site/suggest.ts';

/** Runs of one value longer than this are told in one line: unused registers. */
const RUN = 4;

export function registersText(registers: readonly FoundRegister[]): string {
  const rows: string[][] = [];
  for (let i = 0; i < registers.length; ) {
    const first = registers[i] as FoundRegister;
    let end = i + 1;
    while (end < registers.length && sameRun(first, registers[end] as FoundRegister, end - i)) end += 1;
    if (end - i > RUN)
      rows.push([`${first.table} ${first.register}-${first.register + end - i - 1}`, `all ${first.raw}`]);
    else for (const each of registers.slice(i, end)) rows.push(row(each));
    i = end;
  }
  if (rows.length === 0) return 'No address answered.\n';
  return `${table(['address', 'raw', 'signed', 'tenths', 'hundredths', 'float ABCD', 'float CDAB'], rows)}\n`;
}

function sameRun(first: FoundRegister, other: FoundRegister, distance: number): boolean {
  return other.table === first.table && other.register === first.register + distance && other.raw === first.raw;
}

function row({ table: name, register, raw, int16, float_ABCD, float_CDAB }: FoundRegister): string[] {
  const signed = int16 ?? raw;
  return [
    `${name} ${register}`,
    String(raw),
    int16 === null || int16 === raw ? '' : String(int16),
    int16 === null ? '' : (signed / 10).toFixed(1),
    int16 === null ? '' : (signed / 100).toFixed(2),
    float_ABCD === null ? '' : number(float_ABCD),
    float_CDAB === null ? '' : number(float_CDAB),
  ];
}

export function controllersText(controllers: readonly FoundController[]): string {
  if (controllers.length === 0) return 'No device answered.\n';
  return controllers
    .map(({ device, address, network, objects, trouble }) => {
      const { points } = suggestPoints(objects);
      const likely = new Map(points.map(({ object, point }) => [object.address, point]));
      const rows = objects.map((object) => [
        object.address,
        object.name ?? '',
        object.description ?? '',
        object.units ?? '',
        likely.get(object.address) ?? '',
      ]);
      const behind = network === null ? '' : `, network ${network}`;
      const head = `Device ${device.instance} at ${address}${behind}, vendor number ${device.vendor}: ${objects.length} objects`;
      const list = rows.length === 0 ? '' : `\n${table(['object', 'name', 'description', 'units', 'likely'], rows)}\n`;
      return `${head}\n${trouble === null ? '' : `  its objects: ${trouble}\n`}${list}`;
    })
    .join('\n');
}

function number(value: number): string {
  return String(Number(value.toPrecision(6)));
}

function table(head: readonly string[], rows: readonly (readonly string[])[]): string {
  const widths = head.map((cell, column) => Math.max(cell.length, ...rows.map((cells) => cells[column]?.length ?? 0)));
  return [head, ...rows]
    .map((cells) =>
      cells
        .map((cell, column) => cell.padEnd(widths[column] ?? 0))
        .join('  ')
        .trimEnd(),
    )
    .join('\n');
}
