/**
 * A reply in segments put together again, ASHRAE 135 clause 5.4 for the requesting side: the first segment, the end of
 * each window and the last are acknowledged, sequence numbers run modulo 256.
 */
import { LIMITS } from '../../base/limits.ts';
import type { SegmentHead } from './apdu.ts';

export interface SegmentStep {
  /** What to acknowledge, if anything. */
  readonly acknowledge: { readonly sequence: number; readonly window: number; readonly negative: boolean } | null;
  /** Whether the segment brought the reply further. */
  readonly progress: boolean;
  /** The whole reply, when this was its last segment. */
  readonly whole: Uint8Array | null;
  /** More or longer than a reply may be: it is to be aborted. */
  readonly overflow: boolean;
}

const NOTHING: SegmentStep = { acknowledge: null, progress: false, whole: null, overflow: false };

export class Reassembly {
  readonly #parts: Uint8Array[] = [];
  #bytes = 0;
  #window = 1;
  #sinceAcknowledged = 0;
  /** A gap was already complained of: once is enough until the next segment fits. */
  #complained = false;

  offer({ sequence, more, window }: SegmentHead, payload: Uint8Array): SegmentStep {
    const count = this.#parts.length;
    if (count === 0) {
      if (sequence !== 0) return NOTHING;
      this.#window = Math.max(1, Math.min(window, LIMITS.bacnet_window_max));
      return this.#take(payload, more, true);
    }
    if (sequence === count % 256) return this.#take(payload, more, false);
    const behind = (count - 1 - sequence + 256) % 256;
    // the last one again: its sender has missed the acknowledgement
    if (behind === 0) return this.#acknowledge(false);
    // older ones are copies; younger ones mean that one between them is lost
    if (behind < 128 || this.#complained) return NOTHING;
    this.#complained = true;
    return this.#acknowledge(true);
  }

  #take(payload: Uint8Array, more: boolean, first: boolean): SegmentStep {
    this.#bytes += payload.length;
    const full = this.#parts.length >= LIMITS.bacnet_segments_max || this.#bytes > LIMITS.bacnet_reply_bytes_max;
    if (full) return { ...NOTHING, overflow: true };
    // copied, since a view would hold the memory of the whole datagram (and `slice` of a Buffer is a view)
    this.#parts.push(new Uint8Array(payload));
    this.#complained = false;
    this.#sinceAcknowledged += 1;
    if (more && !first && this.#sinceAcknowledged < this.#window) return { ...NOTHING, progress: true };
    const step = this.#acknowledge(false);
    return { ...step, progress: true, whole: more ? null : this.#joined() };
  }

  #acknowledge(negative: boolean): SegmentStep {
    this.#sinceAcknowledged = 0;
    const sequence = (this.#parts.length - 1) % 256;
    return { ...NOTHING, acknowledge: { sequence, window: this.#window, negative } };
  }

  #joined(): Uint8Array {
    const whole = new Uint8Array(this.#bytes);
    let at = 0;
    for (const part of this.#parts) {
      whole.set(part, at);
      at += part.length;
    }
    return whole;
  }
}
