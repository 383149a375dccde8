/**
 * Lines of a table of text, cell by cell: comma, semicolon, tab or bar between cells, quotes where a cell needs them.
 */

export const SEPARATORS = [',', ';', '\t', '|'] as const;
export type Separator = (typeof SEPARATORS)[number];

/** Cells of a line without blanks round them; quotes may stand around one and are doubled within (RFC 4180). */
export function cells(line: string, separator: string): string[] {
  if (!line.includes('"')) return line.split(separator).map((cell) => cell.trim());
  const out: string[] = [];
  let [cell, quoted] = ['', false];
  for (let i = 0; i < line.length; i++) {
    const sign = line[i] as string;
    if (quoted && sign === '"' && line[i + 1] === '"') {
      cell += '"';
      i++;
    } else if (sign === '"') quoted = !quoted;
    else if (sign === separator && !quoted) {
      out.push(cell.trim());
      cell = '';
    } else cell += sign;
  }
  return [...out, cell.trim()];
}

/** The separator that parts a line of column names into most cells. */
export function separatorOf(header: string): Separator {
  return SEPARATORS.reduce((best, each) => (cells(header, each).length > cells(header, best).length ? each : best));
}
