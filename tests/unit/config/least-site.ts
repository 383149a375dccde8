/** The start of a site file with the least that one holds. */
export const HEAD = `version: 1
site: { id: s, name: S, time_zone: UTC, altitude: 0 m }
chillers:
  - id: CH-1
    machine: { refrigerant: R134a, arrangement: simple, rated_capacity: 900 ton }
    source: { modbus: { host: a } }
    points:
      unit.running: { address: { table: coil, register: 0 } }
`;
