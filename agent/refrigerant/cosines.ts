/**
 * Weights that turn the values of a function at the Chebyshev nodes cos(pi (k + 1/2) / terms) into the coefficients of
 * its Chebyshev series: `weights[j * terms + k]`.
 */
export function chebyshevWeights(terms: number): Float64Array {
  return Float64Array.from({ length: terms * terms }, (_, at) => {
    const [j, k] = [Math.floor(at / terms), at % terms];
    return ((j === 0 ? 1 : 2) / terms) * Math.cos((Math.PI * j * (k + 0.5)) / terms);
  });
}
