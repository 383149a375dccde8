import { compressorMetrics } from './compressors.ts';
import { economizerMetrics } from './economizer.ts';
import { exchangerMetrics } from './exchangers.ts';
import { flashMetrics } from './flash.ts';
import type { CycleMetric } from './metric.ts';
import { pressureMetrics } from './pressures.ts';
import { stageMetrics } from './stages.ts';
import { storageMetrics } from './storage.ts';
import { surgeMetrics } from './surge.ts';
import { tankMetrics } from './tank.ts';
import { unitMetrics } from './unit.ts';

/** Every metric of the cycle. */
export const CYCLE_METRICS: readonly CycleMetric[] = [
  ...unitMetrics,
  ...economizerMetrics,
  ...tankMetrics,
  ...flashMetrics,
  ...compressorMetrics,
  ...exchangerMetrics,
  ...pressureMetrics,
  ...stageMetrics,
  ...storageMetrics,
  ...surgeMetrics,
];
