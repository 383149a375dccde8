/**
 * The source of each chiller of a site, whatever its bus. What chillers behind one host or one port share is made
 * once.
 */
import type { Result } from './base/result.ts';
import type { Source } from './points/types.ts';
import { controllerOf } from './site/points.ts';
import type { ChillerSite } from './site/site.ts';
import { BacnetPorts } from './sources/bacnet/port.ts';
import { bacnetSource } from './sources/bacnet/source.ts';
import { ModbusLines } from './sources/modbus/line.ts';
import { modbusSource } from './sources/modbus/source.ts';
import type { SourceMeans } from './sources/options.ts';

/** Builds sources without the network. Faults: `source_settings`. */
export function sourcesOf(means: SourceMeans): (chiller: ChillerSite) => Result<Source> {
  const lines = new ModbusLines(means);
  const ports = new BacnetPorts(means);
  return (chiller) => {
    const controller = controllerOf(chiller);
    const { id } = chiller;
    if (controller.bus === 'bacnet') {
      const { settings, points } = controller;
      return bacnetSource({ chiller: id, settings, points, ...means, port: ports.at(settings) });
    }
    const { settings, points } = controller;
    return modbusSource({ chiller: id, settings, points, ...means, line: lines.at(settings) });
  };
}
