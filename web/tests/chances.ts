/**
 * A repeatable source of chance: numbers of [0, 1), the same for the same seed from 1 on.
 *
 * A multiplicative congruential generator with the multiplier and modulus of Park, Miller and
 * Stockmeyer (1993); its first numbers are left out, since those of near seeds are alike.
 */
export function chances(seed: number): () => number {
  const modulus = 2 ** 31 - 1;
  let state = seed;
  const next = (): number => {
    state = (state * 48_271) % modulus;
    return (state - 1) / (modulus - 1);
  };
  for (let k = 0; k < 10; k += 1) next();
  return next;
}
