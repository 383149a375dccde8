/** Quality of a figure, in the words of OPC UA. */
export type Quality = 'good' | 'uncertain' | 'bad';

/** A quality that is not `good`, with its reason: a short phrase for people, lower case, no full stop. */
export interface Doubt {
  readonly quality: Exclude<Quality, 'good'>;
  readonly reason: string;
}

const RANK: Record<Quality, number> = { good: 0, uncertain: 1, bad: 2 };

/** The worse of two qualities. */
export function worse(a: Quality, b: Quality): Quality {
  return RANK[a] >= RANK[b] ? a : b;
}
