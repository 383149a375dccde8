/** What a site file may say of a controller and of an address, and what cannot be made a source of it. */
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { LIMITS } from '../../../agent/base/limits.ts';
import { modbusAddress, modbusSource } from '../../../agent/site/buses/modbus.ts';
import { modbusSource as build } from '../../../agent/sources/modbus/source.ts';
import { FakeTime } from './fake-time.ts';

describe('the source', () => {
  test('a host is enough', () => {
    expect(modbusSource.parse({ host: '10.0.0.5' })).toEqual({
      host: '10.0.0.5',
      port: 502,
      timeout_ms: 1000,
      poll_s: 5,
      fast_s: 2,
      pause_ms: 0,
      max_registers: 125,
    });
  });
  test.each<[string, object]>([
    ['no host', {}],
    ['an empty host', { host: '' }],
    ['a host with a scheme', { host: 'tcp://10.0.0.5' }],
    ['a host with blanks', { host: '10.0.0.5 ' }],
    ['an unknown key', { host: 'a', prot: 502 }],
    ['port 0', { host: 'a', port: 0 }],
    ['half a port', { host: 'a', port: 502.5 }],
    ['a timeout of nothing', { host: 'a', timeout_ms: 0 }],
    ['a period of nothing', { host: 'a', poll_s: 0 }],
    ['fast points slower than the others', { host: 'a', poll_s: 5, fast_s: 6 }],
    ['126 registers', { host: 'a', max_registers: 126 }],
    ['fewer registers than a float64 takes', { host: 'a', max_registers: 3 }],
    ['a negative pause', { host: 'a', pause_ms: -1 }],
    ['infinity', { host: 'a', poll_s: Number.POSITIVE_INFINITY }],
  ])('refuses %s', (_, value) => {
    expect(modbusSource.safeParse(value).success).toBe(false);
  });
});

describe('an address', () => {
  test('defaults: unit 1, uint16, most significant byte first', () => {
    const address = { unit: 1, table: 'input', register: 0, type: 'uint16', order: 'ABCD' };
    expect(modbusAddress.parse({ table: 'input', register: 0 })).toEqual(address);
    expect(modbusAddress.parse({ table: 'coil', register: 7, unit: 255 })).toEqual({
      unit: 255,
      table: 'coil',
      register: 7,
    });
  });
  test.each<[string, object]>([
    ['unit 0', { table: 'input', register: 0, unit: 0 }],
    ['unit 248, reserved', { table: 'input', register: 0, unit: 248 }],
    ['a register beyond the last', { table: 'input', register: 65_536 }],
    ['a float32 that reaches beyond the last', { table: 'input', register: 65_535, type: 'float32' }],
    ['a float64 that reaches beyond the last', { table: 'input', register: 65_533, type: 'float64' }],
    ['no table', { register: 0 }],
    ['an unknown type', { table: 'input', register: 0, type: 'float' }],
    ['an unknown order', { table: 'input', register: 0, order: 'BACD' }],
    ['bit 16', { table: 'input', register: 0, bit: 16 }],
    ['a bit of a float', { table: 'input', register: 0, type: 'float32', bit: 0 }],
    ['a type of a coil', { table: 'coil', register: 0, type: 'int16' }],
    ['an unknown key', { table: 'input', register: 0, regster: 1 }],
    ['a register in words', { table: 'input', register: '40001' }],
  ])('refuses %s', (_, value) => {
    expect(modbusAddress.safeParse(value).success).toBe(false);
  });
  test('reaches the last register', () => {
    expect(modbusAddress.safeParse({ table: 'input', register: 65_534, type: 'float32' }).success).toBe(true);
    expect(modbusAddress.safeParse({ table: 'discrete', register: 65_535 }).success).toBe(true);
  });
});

test('both can be written as JSON Schema, as the site file needs', () => {
  for (const schema of [modbusSource, modbusAddress])
    expect(() => z.toJSONSchema(schema, { io: 'input' })).not.toThrow();
});

describe('what cannot be a source', () => {
  const refuse = (...names: string[]) => {
    const time = new FakeTime();
    const settings = modbusSource.parse({ host: 'controller' });
    const address = modbusAddress.parse({ table: 'input', register: 0 });
    const points = names.map((name) => ({ name, address, fast: false }));
    const log = { info: () => {}, warn: () => {} };
    return build({ chiller: 'CH-1', settings, points, clock: time, timers: time, random: () => 0, log });
  };
  test('no points', () => {
    expect(refuse()).toMatchObject({ ok: false, fault: { code: 'source_settings', message: /CH-1/ } });
  });
  test('a point mapped twice', () => {
    expect(refuse('a', 'b', 'a')).toMatchObject({ ok: false, fault: { code: 'source_settings', message: /point a / } });
  });
  test('more points than a chiller may have', () => {
    const many = Array.from({ length: LIMITS.points_per_chiller_max + 1 }, (_, i) => `r${i}`);
    expect(refuse(...many)).toMatchObject({ ok: false, fault: { code: 'source_settings', message: /at most 200/ } });
    expect(refuse(...many.slice(1)).ok).toBe(true);
  });
});
