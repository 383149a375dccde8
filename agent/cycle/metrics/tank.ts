import type { CycleMetric } from './metric.ts';

export const tankMetrics: readonly CycleMetric[] = [
  {
    name: 'economizer.best_tank_saturation_temperature',
    unit: 'degC',
    meaning:
      "saturation temperature in the flash tank at which the compressors' power would be least with today's efficiencies; only where the economizer compressor can be adjusted and the gain exceeds its uncertainty (the optimum is flat)",
    formula: 'T_dew(p) with [w_main + y(p) w_econ(p)]/(h1 - h5(p)) least, electrical work per kilogram',
    inputs: ['evaporator.pressure', 'condenser.pressure', 'flash_tank.pressure', 'condenser.liquid_temperature'],
    onlyIfSure: 'best_tank_gain',
    compute(c) {
      const p = c.figure('best_tank_pressure');
      return Number.isNaN(p) ? c.missing('') : c.take(c.refrigerant.PQ(p, 1)).T;
    },
  },
  {
    name: 'economizer_compressor.suction_quality',
    unit: '1',
    meaning:
      'vapour by mass at the economizer compressor inlet that explains its discharge temperature at the configured efficiency; 1 is dry, above 1 is superheat or error; an upper bound where the discharge shows no superheat',
    formula:
      'x at flash_tank.pressure with h + (h(p_cond, s) - h)/assumed efficiency = h(p_cond, discharge temperature)',
    inputs: ['economizer_compressor.discharge_temperature', 'condenser.pressure', 'flash_tank.pressure'],
    compute(c) {
      const h = c.figure('economizer_suction_enthalpy');
      const hf = c.state('liquid:flash_tank').h;
      return (h - hf) / (c.state('vapour:flash_tank').h - hf);
    },
  },
];
