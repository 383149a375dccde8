/** What page, API and callout packets say of a site and its machines; pressures in kPa absolute, heat in kW. */
import { circuitFigure } from './cycle/circuit-figure.ts';
import type { ChillerSite, Site } from './site/site.ts';

export function siteFacts({ id, name, time_zone, unit_system, barometer, interval_s }: Site) {
  return { id, name, time_zone, unit_system, barometer_kpa: barometer / 1000, interval_s } as const;
}

export function machineFacts({ id, machine, pressure_window: [low, high] }: ChillerSite) {
  return {
    id,
    arrangement: machine.arrangement,
    circuit: circuitFigure(machine),
    rated_capacity_kw: machine.rated_capacity / 1000,
    pressure_window: [low / 1000, high / 1000],
  } as const;
}
