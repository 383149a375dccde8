/** Which faults an alarm can mean: by what it watches and on which side, in the order in which they are looked at. */
import type { FaultEntry } from './fault.ts';
import { MACHINE_FAULTS } from './faults-machine.ts';
import { REFRIGERANT_FAULTS } from './faults-refrigerant.ts';
import { WATER_FAULTS } from './faults-water.ts';

const ALL = { ...WATER_FAULTS, ...REFRIGERANT_FAULTS, ...MACHINE_FAULTS };
export type FaultId = keyof typeof ALL;
export const FAULTS: Readonly<Record<FaultId, FaultEntry>> = ALL;

type Side = 'above' | 'below';
type Row = readonly [pattern: RegExp, above: string, below: string];

/** Sensor faults come first; then what is quickest to see. The first row that fits holds. */
const ROWS: readonly Row[] = [
  [
    /^condenser\.approach$/,
    'low_condenser_water_flow non_condensables fouled_condenser_tubes overcharge pass_partition_leak',
    'low_condenser_water_flow load_or_setting',
  ],
  [
    /^condenser\.(pressure|saturation_temperature)$|^main_compressor\.(lift|pressure_ratio|isentropic_head|first_stage_lift|second_stage_lift)$/,
    'low_condenser_water_flow warm_condenser_water non_condensables fouled_condenser_tubes overcharge surge',
    'cold_condenser_water lost_liquid_seal undercharge load_or_setting',
  ],
  [
    /^condenser\.subcooling$/,
    'non_condensables condenser_valve overcharge',
    'lost_liquid_seal condenser_valve undercharge cold_condenser_water',
  ],
  [
    /^condenser\.(level|liquid_temperature)$/,
    'condenser_valve overcharge warm_condenser_water',
    'lost_liquid_seal condenser_valve undercharge',
  ],
  [/^condenser\.(ua|ua_ratio)$/, 'load_or_setting', 'low_condenser_water_flow non_condensables fouled_condenser_tubes'],
  [/^condenser\.excess_pressure$/, 'non_condensables', 'load_or_setting'],
  [
    /^condenser_valve\./,
    'condenser_valve tank_valve cold_condenser_water surge low_load_cycling',
    'condenser_valve lost_liquid_seal',
  ],
  [/^tank_valve\./, 'tank_valve condenser_valve surge low_load_cycling', 'tank_valve liquid_carry_over'],
  [/^tank_valve_2\./, 'tank_valve_2 tank_valve surge low_load_cycling', 'tank_valve_2 liquid_carry_over'],
  [
    /^flash_tank_2\./,
    'tank_valve_2 liquid_carry_over lost_liquid_seal economizer_off',
    'tank_valve tank_valve_2 undercharge',
  ],
  [
    /^flash_tank\./,
    'tank_valve liquid_carry_over lost_liquid_seal economizer_off',
    'condenser_valve tank_valve undercharge economizer_compressor_degraded',
  ],
  [
    /^evaporator\.approach$/,
    'undercharge excess_oil fouled_evaporator_tubes tank_valve pass_partition_leak',
    'overcharge load_or_setting',
  ],
  [/^evaporator\.(ua|ua_ratio)$/, 'load_or_setting', 'undercharge excess_oil fouled_evaporator_tubes'],
  [
    /^evaporator\./,
    'hot_gas_bypass_open main_compressor_degraded load_or_setting',
    'low_chilled_water_flow undercharge tank_valve fouled_evaporator_tubes excess_oil',
  ],
  [
    /^chilled_water\.leaving_temperature$/,
    'load_or_setting main_compressor_degraded undercharge hot_gas_bypass_open surge',
    'low_chilled_water_flow load_or_setting low_load_cycling',
  ],
  [/^chilled_water\./, 'load_or_setting fouled_evaporator_tubes', 'low_chilled_water_flow pass_partition_leak'],
  [
    /^condenser_water\.(entering|leaving)_temperature$/,
    'warm_condenser_water low_condenser_water_flow load_or_setting',
    'cold_condenser_water',
  ],
  [/^condenser_water\./, 'fouled_condenser_tubes load_or_setting', 'low_condenser_water_flow pass_partition_leak'],
  [
    /^economizer_compressor\.(suction_quality|discharge_superheat|discharge_temperature)$/,
    'economizer_compressor_degraded',
    'liquid_carry_over tank_valve overcharge',
  ],
  [/^economizer_compressor\.\w*efficiency$/, 'liquid_carry_over tank_valve', 'economizer_compressor_degraded'],
  [
    /^economizer_compressor\./,
    'economizer_compressor_degraded liquid_carry_over',
    'economizer_off economizer_compressor_degraded',
  ],
  [
    /^economizer\.|^subcooling\./,
    'economizer_off economizer_compressor_degraded load_or_setting',
    'economizer_compressor_degraded economizer_off liquid_carry_over cold_condenser_water lost_liquid_seal',
  ],
  [
    /^main_compressor\.\w*efficiency$/,
    'overcharge excess_oil',
    'main_compressor_degraded hot_gas_bypass_open load_or_setting',
  ],
  [
    /^main_compressor\.(discharge|suction)_(superheat|temperature)$/,
    'undercharge non_condensables hot_gas_bypass_open main_compressor_degraded',
    'overcharge excess_oil liquid_carry_over',
  ],
  [
    /^main_compressor\.surge_margin$/,
    'load_or_setting',
    'surge low_condenser_water_flow warm_condenser_water non_condensables fouled_condenser_tubes low_load_cycling',
  ],
  [
    /^main_compressor\.|^unit\.(power|kw_per_ton|kw_per_ton_deviation|heat_rejected)$/,
    'economizer_off low_condenser_water_flow fouled_condenser_tubes non_condensables undercharge main_compressor_degraded economizer_compressor_degraded hot_gas_bypass_open fouled_evaporator_tubes excess_oil',
    'load_or_setting low_load_cycling',
  ],
  [
    /^unit\.(cop|carnot_fraction|capacity)/,
    'load_or_setting',
    'economizer_off low_condenser_water_flow fouled_condenser_tubes non_condensables undercharge main_compressor_degraded economizer_compressor_degraded hot_gas_bypass_open fouled_evaporator_tubes excess_oil',
  ],
  [
    /^unit\.(starts|load_fraction|state|operating_mode|run_hours)$/,
    'low_load_cycling surge load_or_setting',
    'low_load_cycling load_or_setting',
  ],
  [/^oil\./, 'oil_supply excess_oil', 'oil_supply excess_oil'],
  [/^purge\./, 'non_condensables', 'non_condensables'],
];

/**
 * Faults in their order before the figures are heard. `watch` null: no figure, an alarm that every machine has. A
 * sensor that reads wrong is always among them, first. Machines without a flash tank have none of its faults.
 */
export function candidates(
  { id, watch, side }: { readonly id: string; readonly watch: string | null; readonly side: Side },
  { economizer }: { readonly economizer: boolean },
): FaultId[] {
  if (watch === null) return id === 'controller-lost' ? ['controller_silent'] : ['sensor_drift'];
  const row = ROWS.find(([pattern]) => pattern.test(watch));
  const named = (row === undefined ? 'load_or_setting' : row[side === 'above' ? 1 : 2]).split(' ') as FaultId[];
  return ['sensor_drift' as const, ...named].filter((each) => economizer || FAULTS[each].economizer !== true);
}
