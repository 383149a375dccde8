/**
 * Starting and stopping in order: pumps first and last, the compressor unloaded before it stops. Below the load that
 * the machine can turn down to it stops on cold water and starts again on warm. Times and bands: common practice, no
 * source.
 */

/** Modes as the controller numbers them. */
export const MODE = { off: 1, starting: 2, running: 3, stopping: 4 } as const;
export type Mode = keyof typeof MODE;

/** s of water flow before the compressor starts; of unloading before it stops; of water flow after. */
const PUMPS_FIRST = 60;
const UNLOAD = 60;
const PUMPS_AFTER = 180;
/** Least s at rest before it starts again by itself. */
const LEAST_REST = 600;
/** K below and above the set point at which it stops and starts by itself. */
const TOO_COLD = 1.7;
const WARM_AGAIN = 2;

export class Sequence {
  mode: Mode = 'running';
  /** The machine's own pumps run. */
  pumps = true;
  /** The compressor is to turn. */
  turning = true;
  /** On its way down: least capacity. */
  unloading = false;
  private since = 0;
  /** Stopped on cold water: waits for load with its pumps running. */
  private waiting = false;

  /** One second; `wanted`: nobody has asked it to stop. K above the set point of leaving chilled water. */
  step(dt: number, wanted: boolean, above: number): void {
    this.since += dt;
    if (!wanted) this.waiting = false;
    switch (this.mode) {
      case 'running':
        if (!wanted) this.enter('stopping');
        else if (above < -TOO_COLD) {
          this.waiting = true;
          this.enter('stopping');
        }
        break;
      case 'stopping':
        if (this.since >= UNLOAD + PUMPS_AFTER) this.enter('off');
        break;
      case 'off':
        if (wanted && (!this.waiting || (this.since >= LEAST_REST && above > WARM_AGAIN))) {
          this.waiting = false;
          this.enter('starting');
        }
        break;
      case 'starting':
        if (!wanted) this.enter('off');
        else if (this.since >= PUMPS_FIRST) this.enter('running');
    }
    this.unloading = this.mode === 'stopping' && this.since < UNLOAD;
    this.turning = this.mode === 'running' || this.unloading;
    this.pumps = this.mode !== 'off' || this.waiting;
  }

  private enter(mode: Mode): void {
    this.mode = mode;
    this.since = 0;
  }
}
