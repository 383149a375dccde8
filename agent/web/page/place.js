/**
 * Label placement: each label lists places it could stand, the one that hits least wins. Pure.
 * @import { Box, PlacedLabel, Point } from '../page-types.ts'
 */

/**
 * @typedef {readonly [number, number, 'start' | 'middle' | 'end']} Place x of the anchor, top of the box, anchor
 * @typedef {{ x: number, y: number, anchor: 'start' | 'middle' | 'end', box: Box }} Put
 */

/** Cost of standing on text: never worth it while any other place exists. */
const TEXT = 4000;

/**
 * @param {Box} a
 * @param {Box} b
 */
export function overlap(a, b) {
  const w = Math.min(a[2], b[2]) - Math.max(a[0], b[0]);
  const h = Math.min(a[3], b[3]) - Math.max(a[1], b[1]);
  return w > 0.01 && h > 0.01 ? w * h : 0;
}

export class Placer {
  /**
   * @param {number} width
   * @param {number} height
   */
  constructor(width, height) {
    this.width = width;
    this.height = height;
    /** @type {{ box: Box, weight: number }[]} */
    this.blocks = [];
    /** @type {{ from: Point, to: Point, pad: number, weight: number }[]} */
    this.lines = [];
    /** @type {PlacedLabel[]} */
    this.labels = [];
  }

  /**
   * Something that a label had better not stand on.
   * @param {Box} box
   * @param {number} [weight]
   */
  block(box, weight = 1) {
    this.blocks.push({ box, weight });
  }

  /**
   * @param {readonly Point[]} points
   * @param {number} [pad]
   * @param {number} [weight]
   */
  line(points, pad = 3, weight = 1) {
    for (let i = 1; i < points.length; i++)
      this.lines.push({
        from: /** @type {Point} */ (points[i - 1]),
        to: /** @type {Point} */ (points[i]),
        pad,
        weight,
      });
  }

  /** @param {Box} box */
  #cost(box) {
    let cost = 0;
    if (box[0] < 2 || box[1] < 2 || box[2] > this.width - 2 || box[3] > this.height - 2) cost += TEXT * 2;
    for (const label of this.labels) {
      const area = overlap(label.box, box);
      if (area > 0) cost += TEXT + area;
    }
    for (const { box: other, weight } of this.blocks) {
      const area = overlap(other, box);
      if (area > 0) cost += (40 + area) * weight;
    }
    for (const { from, to, pad, weight } of this.lines) {
      const length = Math.hypot(to[0] - from[0], to[1] - from[1]);
      const steps = Math.ceil(length / 4) || 1;
      for (let i = 0; i < steps; i++) {
        const x = from[0] + ((to[0] - from[0]) * (i + 0.5)) / steps;
        const y = from[1] + ((to[1] - from[1]) * (i + 0.5)) / steps;
        if (x > box[0] - pad && x < box[2] + pad && y > box[1] - pad && y < box[3] + pad)
          cost += 3.5 * (length / steps) * weight;
      }
    }
    return cost;
  }

  /**
   * Puts a label at the best of its places; null where an optional one would cost more than `limit`. A label that must
   * stand and has no place free of text is shifted up and down until it has.
   * @param {string} id
   * @param {number} width
   * @param {number} height
   * @param {readonly Place[]} places
   * @param {number} [limit]
   * @returns {Put | null}
   */
  put(id, width, height, places, limit = Number.POSITIVE_INFINITY) {
    let best = this.#best(width, height, places);
    if (best !== null && best.cost >= TEXT && limit === Number.POSITIVE_INFINITY) {
      /** @type {Place[]} */
      const more = [];
      for (let shift = 6; shift <= 240; shift += 6)
        for (const [x, y, anchor] of places)
          more.push([x, y - shift, anchor], [x, y + shift, anchor], [x + shift, y, anchor], [x - shift, y, anchor]);
      const other = this.#best(width, height, more);
      if (other !== null && other.cost < best.cost) best = other;
    }
    if (best === null || best.cost > limit) return null;
    this.labels.push({ id, box: best.put.box });
    return best.put;
  }

  /**
   * @param {number} width
   * @param {number} height
   * @param {readonly Place[]} places
   */
  #best(width, height, places) {
    /** @type {{ cost: number, put: Put } | null} */
    let best = null;
    for (const [i, [x, y, anchor]] of places.entries()) {
      const left = anchor === 'end' ? x - width : anchor === 'middle' ? x - width / 2 : x;
      /** @type {Box} */
      const box = [left, y, left + width, y + height];
      const cost = this.#cost(box) + i * 1.5;
      if (best === null || cost < best.cost) best = { cost, put: { x, y, anchor, box } };
    }
    return best;
  }
}
