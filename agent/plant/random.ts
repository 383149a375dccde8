/** Seeded random numbers: one independent stream per name, so that a new sensor changes nobody else's draws. */

/** sfc32 by Chris Doty-Humphrey (public domain), seeded by a hash of seed and name. */
export class RandomStream {
  private a: number;
  private b: number;
  private c: number;
  private d = 1;
  private spare = Number.NaN;

  constructor(seed: number, name: string) {
    let hash = 2166136261 ^ seed;
    const words: number[] = [];
    for (let word = 0; word < 3; word++) {
      for (let i = 0; i < name.length; i++) hash = Math.imul(hash ^ name.charCodeAt(i), 16777619);
      hash = Math.imul(hash ^ (hash >>> 15) ^ word, 2246822519);
      words.push((hash ^ (hash >>> 13)) | 0);
    }
    [this.a, this.b, this.c] = words as [number, number, number];
    for (let i = 0; i < 16; i++) this.uniform();
  }

  /** In [0, 1). */
  uniform(): number {
    const t = (((this.a + this.b) | 0) + this.d) | 0;
    this.d = (this.d + 1) | 0;
    this.a = this.b ^ (this.b >>> 9);
    this.b = (this.c + (this.c << 3)) | 0;
    this.c = (this.c << 21) | (this.c >>> 11);
    this.c = (this.c + t) | 0;
    return (t >>> 0) / 4294967296;
  }

  /** Standard normal, by Marsaglia's polar method. */
  normal(): number {
    if (!Number.isNaN(this.spare)) {
      const kept = this.spare;
      this.spare = Number.NaN;
      return kept;
    }
    for (;;) {
      const x = 2 * this.uniform() - 1;
      const y = 2 * this.uniform() - 1;
      const r = x * x + y * y;
      if (r >= 1 || r === 0) continue;
      const scale = Math.sqrt((-2 * Math.log(r)) / r);
      this.spare = y * scale;
      return x * scale;
    }
  }
}

/** A wandering disturbance: Ornstein-Uhlenbeck with standard deviation `sigma` and correlation time `tau` (s). */
export class Wander {
  value: number;
  private readonly stream: RandomStream;
  private readonly sigma: number;
  private readonly tau: number;

  constructor(stream: RandomStream, options: { sigma: number; tau: number }) {
    this.stream = stream;
    this.sigma = options.sigma;
    this.tau = options.tau;
    this.value = this.sigma * stream.normal();
  }

  step(dt: number): void {
    const keep = Math.exp(-dt / this.tau);
    this.value = this.value * keep + this.sigma * Math.sqrt(1 - keep * keep) * this.stream.normal();
  }
}
