/**
 * Refrigerant properties of the plant, by cubic interpolation in tables that an independent code wrote
 * (tables/README.md). The tables' pressure grid is geometric, so the grid coordinate z (0 at the lowest line, 1 per
 * line) is linear in ln p and needs no search. SI. Nothing is allocated per call: results go into a caller's record.
 */
import { readFileSync } from 'node:fs';
import { assert } from '../base/result.ts';

const SUPERHEAT_STEP = 2.5;
const SUPERHEAT_LINES = 25;
/** K below saturation that is rounding, not liquid. */
const DRY = 1e-6;

/** Both saturated phases at one pressure, and their slopes along z. */
export class SaturationState {
  z = 0;
  p = 0;
  T = 0;
  rhoLiquid = 0;
  rhoVapour = 0;
  hLiquid = 0;
  hVapour = 0;
  /** d/dz of p, T, rho and h. */
  dp = 0;
  dT = 0;
  dRhoLiquid = 0;
  dRhoVapour = 0;
  dhLiquid = 0;
  dhVapour = 0;
}

/**
 * Vapour at a pressure and a superheat; the slopes are along superheat (per K). With liquid in it the quality is below
 * 1 and the superheat 0.
 */
export class VapourState {
  z = 0;
  superheat = 0;
  /** Vapour by mass. */
  quality = 1;
  rho = 0;
  h = 0;
  s = 0;
  dh = 0;
  ds = 0;
}

function readTable(file: string, columns: number): Float64Array {
  const text = readFileSync(new URL(`tables/${file}`, import.meta.url), 'utf8')
    .trim()
    .split('\n')
    .slice(1);
  const values = new Float64Array(text.length * columns);
  text.forEach((line, row) => {
    const cells = line.split(',');
    assert(cells.length === columns, `${file}:${row + 2} has ${columns} columns`);
    cells.forEach((cell, column) => {
      values[row * columns + column] = Number(cell);
    });
  });
  return values;
}

/** Weights of the cubic through four equidistant nodes -1, 0, 1, 2 at t, and their slopes. */
function cubicWeights(t: number, w: Float64Array, d: Float64Array): void {
  w[0] = (-t * (t - 1) * (t - 2)) / 6;
  w[1] = ((t + 1) * (t - 1) * (t - 2)) / 2;
  w[2] = (-(t + 1) * t * (t - 2)) / 2;
  w[3] = ((t + 1) * t * (t - 1)) / 6;
  const square = 3 * t * t;
  d[0] = -(square - 6 * t + 2) / 6;
  d[1] = (square - 4 * t - 1) / 2;
  d[2] = -(square - 2 * t - 2) / 2;
  d[3] = (square - 1) / 6;
}

export class Fluid {
  private readonly lines: number;
  private readonly lowest: number;
  /** Step of ln p between two lines. */
  private readonly step: number;
  /** T, rho liquid, rho vapour, h liquid, h vapour per line. */
  private readonly saturated: Float64Array;
  /** rho, h, s per line and superheat. */
  private readonly superheated: Float64Array;
  private readonly wz = new Float64Array(4);
  private readonly dz = new Float64Array(4);
  private readonly wx = new Float64Array(4);
  private readonly dx = new Float64Array(4);
  private readonly sums = new Float64Array(10);
  private readonly line = new SaturationState();

  constructor(name: string) {
    const saturation = readTable(`plant-${name}-saturation.csv`, 10);
    const vapour = readTable(`plant-${name}-vapour.csv`, 5);
    this.lines = saturation.length / 10;
    this.lowest = saturation[0] as number;
    this.step = Math.log((saturation[(this.lines - 1) * 10] as number) / this.lowest) / (this.lines - 1);
    assert(vapour.length === this.lines * SUPERHEAT_LINES * 5, 'both tables have the same pressure lines');
    this.saturated = new Float64Array(this.lines * 5);
    for (let line = 0; line < this.lines; line++) {
      const z = Math.log((saturation[line * 10] as number) / this.lowest) / this.step;
      assert(Math.abs(z - line) < 1e-6, `${name}: the pressure grid is geometric at line ${line}`);
      for (let k = 0; k < 5; k++) this.saturated[line * 5 + k] = saturation[line * 10 + 1 + k] as number;
    }
    this.superheated = new Float64Array(this.lines * SUPERHEAT_LINES * 3);
    for (let row = 0; row < this.lines * SUPERHEAT_LINES; row++) {
      const superheat = vapour[row * 5 + 1] as number;
      assert(Math.abs(superheat - SUPERHEAT_STEP * (row % SUPERHEAT_LINES)) < 1e-9, 'superheat grid is even');
      for (let k = 0; k < 3; k++) this.superheated[row * 3 + k] = vapour[row * 5 + 2 + k] as number;
    }
  }

  coordinate(p: number): number {
    return Math.log(p / this.lowest) / this.step;
  }

  /** Sets the weights for z and answers the first of the four lines used. */
  private locate(z: number): number {
    assert(z > -1 && z < this.lines, 'pressure within the tables');
    const base = Math.min(Math.max(Math.floor(z), 1), this.lines - 3);
    cubicWeights(z - base, this.wz, this.dz);
    return base - 1;
  }

  saturation(z: number, out: SaturationState): void {
    const first = this.locate(z) * 5;
    const { saturated, wz, dz, sums } = this;
    for (let k = 0; k < 5; k++) {
      let value = 0;
      let slope = 0;
      for (let i = 0; i < 4; i++) {
        const node = saturated[first + i * 5 + k] as number;
        value += (wz[i] as number) * node;
        slope += (dz[i] as number) * node;
      }
      sums[k] = value;
      sums[k + 5] = slope;
    }
    out.z = z;
    out.p = this.lowest * Math.exp(z * this.step);
    out.dp = out.p * this.step;
    out.T = sums[0] as number;
    out.rhoLiquid = sums[1] as number;
    out.rhoVapour = sums[2] as number;
    out.hLiquid = sums[3] as number;
    out.hVapour = sums[4] as number;
    out.dT = sums[5] as number;
    out.dRhoLiquid = sums[6] as number;
    out.dRhoVapour = sums[7] as number;
    out.dhLiquid = sums[8] as number;
    out.dhVapour = sums[9] as number;
  }

  /** Saturation at temperature T (K), starting from `out.z`. */
  saturationAt(T: number, out: SaturationState): void {
    this.saturation(out.z === 0 ? this.lines / 2 : out.z, out);
    for (let i = 0; i < 20 && Math.abs(T - out.T) > 1e-10; i++) this.saturation(out.z + (T - out.T) / out.dT, out);
  }

  /**
   * Saturated liquid of enthalpy h (J/kg), starting from `out.z`: for subcooled liquid, whose enthalpy hardly feels
   * pressure.
   */
  liquidOf(h: number, out: SaturationState): void {
    this.saturation(out.z === 0 ? this.lines / 2 : out.z, out);
    for (let i = 0; i < 20 && Math.abs(h - out.hLiquid) > 1e-6; i++)
      this.saturation(out.z + (h - out.hLiquid) / out.dhLiquid, out);
  }

  vapour(z: number, superheat: number, out: VapourState): void {
    const firstLine = this.locate(z);
    const x = superheat / SUPERHEAT_STEP;
    const base = Math.min(Math.max(Math.floor(x), 1), SUPERHEAT_LINES - 3);
    const { superheated, wz, wx, dx } = this;
    cubicWeights(x - base, wx, dx);
    let rho = 0;
    let h = 0;
    let s = 0;
    let dh = 0;
    let ds = 0;
    for (let i = 0; i < 4; i++) {
      const weight = wz[i] as number;
      const row = ((firstLine + i) * SUPERHEAT_LINES + base - 1) * 3;
      for (let j = 0; j < 4; j++) {
        const both = weight * (wx[j] as number);
        const slope = weight * (dx[j] as number);
        const at = row + j * 3;
        rho += both * (superheated[at] as number);
        h += both * (superheated[at + 1] as number);
        s += both * (superheated[at + 2] as number);
        dh += slope * (superheated[at + 1] as number);
        ds += slope * (superheated[at + 2] as number);
      }
    }
    out.z = z;
    out.superheat = superheat;
    out.quality = 1;
    out.rho = rho;
    out.h = h;
    out.s = s;
    out.dh = dh / SUPERHEAT_STEP;
    out.ds = ds / SUPERHEAT_STEP;
  }

  /** Saturated vapour of `out` with liquid in it: quality q at z. */
  private wet(z: number, q: number, out: VapourState): void {
    const { line } = this;
    this.saturation(z, line);
    this.vapour(z, 0, out);
    const latent = out.h - line.hLiquid;
    out.quality = q;
    out.h -= (1 - q) * latent;
    out.s -= ((1 - q) * latent) / line.T;
    out.rho = 1 / (q / out.rho + (1 - q) / line.rhoLiquid);
  }

  /** Vapour of enthalpy h at z, starting from `out.superheat`; wet where h is below that of saturated vapour. */
  vapourOfEnthalpy(z: number, h: number, out: VapourState): void {
    this.vapour(z, out.superheat, out);
    for (let i = 0; i < 20 && Math.abs(h - out.h) > 1e-4; i++)
      this.vapour(z, out.superheat + (h - out.h) / out.dh, out);
    if (out.superheat >= -DRY) return;
    this.vapour(z, 0, out);
    this.saturation(z, this.line);
    this.wet(z, 1 - (out.h - h) / (out.h - this.line.hLiquid), out);
  }

  /** Vapour of entropy s at z, starting from `out.superheat`; wet where s is below that of saturated vapour. */
  vapourOfEntropy(z: number, s: number, out: VapourState): void {
    this.vapour(z, out.superheat, out);
    for (let i = 0; i < 20 && Math.abs(s - out.s) > 1e-7; i++)
      this.vapour(z, out.superheat + (s - out.s) / out.ds, out);
    if (out.superheat >= -DRY) return;
    this.vapour(z, 0, out);
    this.saturation(z, this.line);
    this.wet(z, 1 - ((out.s - s) * this.line.T) / (out.h - this.line.hLiquid), out);
  }
}
