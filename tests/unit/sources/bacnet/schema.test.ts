/** What a site file may say of a BACnet controller and of a point's object. */
import { describe, expect, test } from 'vitest';
import { bacnetAddress, bacnetSource, endpointOf, objectOfAddress } from '../../../../agent/site/buses/bacnet.ts';

const messages = (result: {
  success: boolean;
  error?: { issues: { path: PropertyKey[]; message: string }[] };
}): string[] => result.error?.issues.map(({ path, message }) => `${path.join('.')}: ${message}`) ?? [];

describe('source', () => {
  test('instance and address are enough', () => {
    expect(bacnetSource.parse({ device: 2001, address: '10.0.0.5' })).toEqual({
      ...{ device: 2001, address: '10.0.0.5', interface: '0.0.0.0', port: 47_808 },
      ...{ timeout_ms: 3000, poll_s: 5, fast_s: 2, max_objects: 25 },
    });
  });

  test.each([
    ['no way to it', { device: 1 }, 'address: say where the controller is'],
    [
      'the broadcast of everything',
      { device: 1, broadcast: '255.255.255.255' },
      'broadcast: the directed broadcast address',
    ],
    ['a name', { device: 1, address: 'chiller' }, 'address: an IPv4 address'],
    ['a host above 255', { device: 1, address: '10.0.0.256' }, 'address: an IPv4 address'],
    ['a port above 65535', { device: 1, address: '10.0.0.5:65536' }, 'address: ports end at 65535'],
    ['an instance that stands for any', { device: 4_194_303, address: '10.0.0.5' }, 'device: '],
    ['network 0', { device: 1, address: '10.0.0.5', network: 0 }, 'network: '],
    ['all networks', { device: 1, address: '10.0.0.5', network: 65_535 }, 'network: '],
    [
      'a fast pace that is slow',
      { device: 1, address: '10.0.0.5', poll_s: 1, fast_s: 2 },
      'fast_s: fast_s must not be longer',
    ],
    ['a key that is unknown', { device: 1, address: '10.0.0.5', write: true }, ': Unrecognized key'],
    ['a registration of a second', { device: 1, foreign: { bbmd: '10.0.0.1', ttl_s: 1 } }, 'foreign.ttl_s: '],
  ])('%s is refused', (_, given, message) => {
    expect(messages(bacnetSource.safeParse(given)).join()).toContain(message);
  });

  test('endpoints', () => {
    expect(endpointOf('10.0.0.5')).toEqual({ host: '10.0.0.5', port: 47_808 });
    expect(endpointOf('10.0.0.5:1234')).toEqual({ host: '10.0.0.5', port: 1234 });
  });
});

describe('address of a point', () => {
  test('an object is enough', () => {
    const address = bacnetAddress.parse({ object: 'analog-input:3' });
    expect(address).toEqual({ object: 'analog-input:3', property: 'present-value', cov: false });
    expect(objectOfAddress(address)).toEqual({ type: 0, instance: 3 });
    expect(objectOfAddress({ object: 'multi-state-value:4194302' })).toEqual({ type: 19, instance: 4_194_302 });
  });

  test.each([
    [{ object: 'analog-inpt:3' }, 'object: kind and instance, such as analog-input:3; kinds: analog-input, '],
    [{ object: 'analog-input' }, 'object: kind and instance'],
    [{ object: 'analog-input:03' }, 'object: kind and instance'],
    [{ object: 'analog-input:4194303' }, 'object: instances end at 4194302'],
    [{ object: 'analog-input:3', property: 'priority-array' }, 'property: '],
    [
      { object: 'binary-input:3', property: 'elapsed-active-time', cov: true },
      'cov: changes are reported of present-value alone',
    ],
  ])('%j is refused', (given, message) => {
    expect(messages(bacnetAddress.safeParse(given)).join()).toContain(message);
  });
});
