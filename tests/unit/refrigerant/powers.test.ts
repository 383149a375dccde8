import { expect, test } from 'vitest';
import { Powers } from '../../../agent/refrigerant/powers.ts';

test('powers by products and exponentials are those of the language', () => {
  const exponents = [-0.5, 0, 1, 1.5, 2, 3, 5, 6, 10, 18, 22, 50, 0.373, 1.0924, 2.051, -0.75];
  const powers = new Powers(exponents);
  for (const x of [0.7, 1, 1.3, 1.9]) {
    powers.evaluate(x, Math.log(x));
    for (const t of exponents) {
      expect(Math.abs(powers.values[powers.slotOf(t)]! / x ** t - 1), `${x}^${t}`).toBeLessThan(5e-15);
    }
  }
});
