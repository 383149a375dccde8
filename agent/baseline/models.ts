/**
 * Power of a clean machine as a function of what is asked of it: load, leaving chilled water, entering condenser water.
 * None of the three depends on how dirty the tubes are; condensing pressure, refrigerant lift and leaving condenser
 * water do, and a model on them would take fouling for granted.
 */
import { dot, type Fitted, linearLeastSquares } from './least-squares.ts';

/** One hour of a steady machine, means. */
export interface Observation {
  /** Start of the hour, ms since the epoch. */
  readonly time: number;
  /** kW electrical, kW of cooling. */
  readonly power: number;
  readonly capacity: number;
  /** Leaving chilled water, entering condenser water, K. */
  readonly chilled: number;
  readonly condenser: number;
}

export type Asked = Pick<Observation, 'capacity' | 'chilled' | 'condenser'>;

export const MODEL_NAMES = ['gordon_ng', 'bi_quadratic'] as const;
export type ModelName = (typeof MODEL_NAMES)[number];

export interface Prediction {
  /** kW */
  readonly power: number;
  /** Derivatives with respect to the parameters. */
  readonly slope: readonly number[];
}

export interface Model {
  readonly name: ModelName;
  readonly label: string;
  readonly formula: string;
  readonly parameters: readonly string[];
  /** A first guess; null where the observations give none. */
  start(observations: readonly Observation[]): readonly number[] | null;
  /** Null where the model has no power there. */
  predict(parameters: readonly number[], asked: Asked): Prediction | null;
}

/** All observations at once, for the fit. */
export function fittedBy(model: Model, observations: readonly Observation[]): Fitted {
  return (parameters) => {
    const found = observations.map((observation) => model.predict(parameters, observation));
    if (found.some((each) => each === null || !Number.isFinite(each.power))) return null;
    const known = found as readonly Prediction[];
    return { values: known.map(({ power }) => power), rows: known.map(({ slope }) => slope) };
  };
}

/**
 * Gordon & Ng, Cool Thermodynamics (2000), the form for constant coolant flow, as given by Reddy & Andersen, HVAC&R
 * Research 8(1), 2002 (from memory):
 *
 *     (1/COP + 1) To/Ti - 1 = a1 To/Q + a2 (Ti - To)/(Ti Q) + a3 (1/COP + 1) Q/Ti
 *
 * To leaving chilled water, Ti entering condenser water (K), Q capacity; a1 the entropy made inside (kW/K), a2 the
 * equivalent heat leak (kW), a3 the resistance of the heat exchangers (K/kW). Its regression has the measured power on
 * both sides; solved for the power, so that what is judged is what is fitted:
 *
 *     P = [Ti Q + a1 To Ti + a2 (Ti - To)]/(To - a3 Q) - Q
 */
const GORDON_NG: Model = {
  name: 'gordon_ng',
  label: 'Gordon and Ng',
  formula: 'P = [Ti Q + a1 To Ti + a2 (Ti - To)]/(To - a3 Q) - Q',
  parameters: ['a1', 'a2', 'a3'],
  start(observations) {
    const rows = observations.map(({ power, capacity: Q, chilled: To, condenser: Ti }) => [
      To / Q,
      (Ti - To) / (Ti * Q),
      ((power / Q + 1) * Q) / Ti,
    ]);
    const sides = observations.map(
      ({ power, capacity: Q, chilled: To, condenser: Ti }) => ((power / Q + 1) * To) / Ti - 1,
    );
    return linearLeastSquares(rows, sides)?.parameters ?? null;
  },
  predict(parameters, { capacity: Q, chilled: To, condenser: Ti }) {
    const [a1, a2, a3] = parameters as [number, number, number];
    const above = Ti * Q + a1 * To * Ti + a2 * (Ti - To);
    const below = To - a3 * Q;
    if (!(below > 0)) return null;
    return { power: above / below - Q, slope: [(To * Ti) / below, (Ti - To) / below, (above * Q) / below ** 2] };
  },
};

/** Load in thousands of kW and the difference of the water temperatures in tens of K: columns of like size. */
const LOAD_SCALE_KW = 1000;
const LIFT_SCALE_K = 10;

/** Bi-quadratic in load and in the difference between entering condenser and leaving chilled water. */
const BI_QUADRATIC: Model = {
  name: 'bi_quadratic',
  label: 'bi-quadratic',
  formula: 'P = b0 + b1 q + b2 q2 + b3 d + b4 d2 + b5 q d, q = Q/1000 kW, d = (Ti - To)/10 K',
  parameters: ['b0', 'b1', 'b2', 'b3', 'b4', 'b5'],
  start: (observations) =>
    linearLeastSquares(
      observations.map(terms),
      observations.map(({ power }) => power),
    )?.parameters ?? null,
  predict(parameters, asked) {
    const slope = terms(asked);
    return { power: dot(parameters, slope), slope };
  },
};

function terms({ capacity, chilled, condenser }: Asked): number[] {
  const q = capacity / LOAD_SCALE_KW;
  const d = (condenser - chilled) / LIFT_SCALE_K;
  return [1, q, q * q, d, d * d, q * d];
}

export const MODELS: readonly Model[] = [GORDON_NG, BI_QUADRATIC];

export function modelNamed(name: ModelName): Model {
  return MODELS.find((model) => model.name === name) ?? GORDON_NG;
}
