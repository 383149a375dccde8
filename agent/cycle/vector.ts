/**
 * Lists of a few dozen numbers, made by the hundred in every interval. Plain arrays on purpose: a typed array of more
 * than 64 bytes keeps its numbers outside of the heap, which makes it some forty times as dear to make.
 */
export type Vector = number[];

export function zeros(length: number): Vector {
  return new Array<number>(length).fill(0);
}
