/** What the cycle needs to know of a machine; the site file gives it, `site/` composes the schema. SI after parsing. */
import { z } from 'zod';
import { quantity } from '../base/quantity.ts';

const efficiency = z.number().gt(0).lte(1);

function compressor(assumed: number) {
  return z
    .strictObject({
      motor: z
        .enum(['hermetic', 'open'])
        .default('hermetic')
        .describe('hermetic: motor losses reach the refrigerant; open: they leave to the machinery room'),
      drive_efficiency: efficiency
        .default(0.95)
        .describe('shaft power over electrical power: drive, motor and gear together'),
      assumed_isentropic_efficiency: efficiency
        .default(assumed)
        .describe('used only where the points do not give it; interstage: of each stage'),
      assumed_efficiency_uncertainty: z
        .number()
        .gt(0)
        .lt(0.5)
        .default(0.05)
        .describe('standard uncertainty (k = 1) of the assumed efficiency'),
    })
    .prefault({});
}

function bundle(side: string) {
  return z
    .strictObject({
      flow: quantity('volume_flow', '3600 gpm').describe('flow at which the pressure drop below holds'),
      pressure_drop: quantity('pressure_difference', '20 ftH2O').describe('over the clean bundle at that flow'),
      exponent: z.number().gt(1).lte(2).default(1.85).describe('pressure drop goes with this power of the flow'),
      uncertainty: z.number().gt(0).lt(0.5).default(0.05).describe('standard (k = 1), relative, of the flow from it'),
    })
    .optional()
    .describe(`${side} flow from the pressure drop over its tube bundle: where no meter is, or beside it`);
}

function vessel(level: string) {
  return z
    .strictObject({
      liquid_area: quantity('area', '1.5 m2')
        .refine((area) => area >= 0.01 && area <= 200, 'must lie between 0.01 and 200 m2')
        .describe('surface of the liquid at its usual level'),
      level_range: quantity('length', '600 mm')
        .refine((range) => range >= 0.01 && range <= 10, 'must lie between 10 mm and 10 m')
        .describe(`how far the liquid rises from 0 to 100 % of ${level}`),
      uncertainty: z
        .number()
        .gt(0)
        .lt(0.5)
        .default(0.1)
        .describe('standard (k = 1), relative, of area times range: a lying shell is not equally wide at every level'),
    })
    .optional()
    .describe(`what it stores while ${level} moves; left out: it is taken to stand`);
}

export const chillerParameters = z.strictObject({
  refrigerant: z.string().describe('name of the refrigerant, such as R134a'),
  arrangement: z
    .enum(['simple', 'parallel', 'interstage', 'subcooler'])
    .describe(
      'how the circuit is built: no economizer; tank vapour through a compressor of its own; tank vapour between stages; a branch of the liquid subcools the rest and joins between two stages',
    ),
  stages: z
    .union([z.literal(2), z.literal(3)])
    .default(2)
    .describe('interstage: stages of the main compressor; three have two flash tanks'),
  subcooler: z
    .strictObject({
      approach: quantity('temperature_difference', '3 K')
        .prefault('3 K')
        .describe(
          'subcooled liquid above what boils off, used only where economizer.liquid_temperature is not measured',
        ),
      approach_uncertainty: quantity('temperature_difference', '1.5 K').prefault('1.5 K').describe('standard (k = 1)'),
      superheat: quantity('temperature_difference', '3 K')
        .prefault('3 K')
        .describe('of its vapour, used only where economizer.vapour_temperature is not measured'),
      superheat_uncertainty: quantity('temperature_difference', '1.5 K').prefault('1.5 K').describe('standard (k = 1)'),
    })
    .prefault({}),
  rated_capacity: quantity('power', '1500 ton').describe('rated capacity, such as 1500 ton'),
  rated_suction_flow: quantity('volume_flow', '3.1 m3/s')
    .optional()
    .describe('greatest main suction volume flow the machine was built for'),
  main_compressor: compressor(0.8),
  economizer_compressor: compressor(0.74),
  auxiliary_power: quantity('power', '2 kW')
    .prefault('0 kW')
    .describe('part of unit.power that drives no compressor: oil pump, controls'),
  suction_superheat: quantity('temperature_difference', '1 K')
    .prefault('0 K')
    .describe('superheat at the main suction, used only where no suction temperature is measured'),
  suction_superheat_uncertainty: quantity('temperature_difference', '0.5 K')
    .prefault('0.5 K')
    .describe('standard uncertainty (k = 1) of that assumed superheat'),
  economizer_adjustable: z
    .boolean()
    .default(false)
    .describe('speed or vanes of the economizer compressor can be set, so that a best tank pressure is of use'),
  resolve_approaches: z
    .boolean()
    .default(false)
    .describe('compute the saving of the economizer once more with the condenser solved anew without it'),
  efficiency_ratio: z
    .strictObject({
      low: z.number().gt(0.5).lte(1.5).default(0.97),
      high: z.number().gt(0.5).lte(1.5).default(1.03),
    })
    .optional()
    .describe(
      "main compressor's efficiency without the economizer, at its larger flow, over that with it: bounds; left out: learned from steady minutes, 0.97 to 1.03 until then",
    ),
  surge_line: z
    .array(z.tuple([z.number().positive(), z.number().positive()]))
    .min(2)
    .max(20)
    .refine((line) => line.every(([omega], at) => at === 0 || omega > (line[at - 1]?.[0] ?? 0)), {
      message: 'must rise in its first numbers',
    })
    .optional()
    .describe(
      'main compressor at surge: pairs of isentropic head over squared sound speed at suction, and suction volume flow over that speed in m2',
    ),
  least_surge_margin: z
    .number()
    .min(0)
    .lt(1)
    .default(0.1)
    .describe('margin that the main compressor must keep with the economizer on; a saving missed is withheld below it'),
  hot_gas_bypass: z
    .strictObject({
      full_share: z.number().gt(0).lte(0.5).describe('part of the main flow that goes round with its valve fully open'),
      uncertainty: z.number().gt(0).lt(0.5).default(0.05).describe('standard (k = 1) of that part'),
    })
    .optional()
    .describe('gas from the main discharge back to the evaporator; opens in proportion to hot_gas_bypass.position'),
  vessels: z
    .strictObject({
      condenser: vessel('condenser.level'),
      flash_tank: vessel('flash_tank.level'),
      flash_tank_2: vessel('flash_tank_2.level'),
    })
    .prefault({})
    .describe('vessels whose level tells what they store: density x area x rise of the level enters the balances'),
  oil_cooler_heat: quantity('power', '10 kW')
    .prefault('0 kW')
    .describe('heat of the drives that the oil cooler gives to water outside the circuit'),
  evaporator_heat_gain: quantity('power', '5 kW')
    .prefault('0 kW')
    .describe('heat from the room into the cold side of the circuit, beside that of the chilled water'),
  condenser_heat_loss: quantity('power', '5 kW')
    .prefault('0 kW')
    .describe('heat from the warm side of the circuit to the room, beside that to the condenser water'),
  motor_cooling: z
    .boolean()
    .default(false)
    .describe('liquid refrigerant cools the hermetic motor and returns to the main suction'),
  matched_water_sensors: z
    .boolean()
    .default(false)
    .describe('entering and leaving water sensors are a matched pair: 0.05 K (k = 1) on the difference'),
  chilled_water_bundle: bundle('chilled water'),
  condenser_water_bundle: bundle('condenser water'),
  water: z
    .strictObject({
      density: z.number().gt(500).lt(1500).optional().describe('kg/m3; left out: pure water at its temperature'),
      heat_capacity: z
        .number()
        .gt(1000)
        .lt(5000)
        .optional()
        .describe('J/(kg K); left out: pure water at its temperature'),
    })
    .prefault({}),
});

/** Parsed and frozen; SI. */
export type ChillerParameters = z.output<typeof chillerParameters>;
