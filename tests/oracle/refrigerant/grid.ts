import { readFileSync } from 'node:fs';

/**
 * What a state may differ from the grid, relatively. 1e-6 is asked; the grid's own searches end within about 3e-9, so
 * a tenth of a percent of any coefficient shows.
 */
export const TOLERANCE = 1e-8;

/**
 * A property grid of the independent code CoolProp 8.0.0 (HEOS), written by tests/oracle/grids/generate.py: it checks
 * the implementation where the equation is the same, not the equation.
 */
export function readGrid(refrigerant: string, kind: 'saturation' | 'single-phase'): Record<string, number>[] {
  const file = new URL(`../grids/${refrigerant}-${kind}.csv`, import.meta.url);
  const [head = '', ...lines] = readFileSync(file, 'utf8').trim().split('\n');
  const names = head.split(',');
  return lines.map((line) => {
    const cells = line.split(',');
    return Object.fromEntries(
      names.map((name, i) => [name, name === 'phase' ? (cells[i] === 'liquid' ? 0 : 1) : Number(cells[i])]),
    );
  });
}

/** Keeps the worst relative difference of each quantity and the state where it was found. */
export class Worst {
  readonly found = new Map<string, { difference: number; where: string }>();

  compare(quantity: string, computed: number | null, expected: number, where: string): void {
    const difference = computed === null ? Number.POSITIVE_INFINITY : Math.abs(computed / expected - 1);
    const known = this.found.get(quantity);
    if (known === undefined || !(difference <= known.difference)) this.found.set(quantity, { difference, where });
  }

  /** Worst over all quantities. */
  get most(): number {
    return Math.max(...[...this.found.values()].map((entry) => entry.difference));
  }

  table(): string {
    return [...this.found]
      .map(([quantity, { difference, where }]) => `  ${quantity.padEnd(14)} ${difference.toExponential(1)}  ${where}`)
      .join('\n');
  }
}
